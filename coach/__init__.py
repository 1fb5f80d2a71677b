"""Evenrun: a practice coach for players of fast passages on brass instruments.

From Python: `coach.assess(samples, sample_rate, expected, rules=None)` judges a recording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coach.assessment import Expected, assess
    from coach.core.report import Report

__version__ = "0.1.0"
__all__ = ["Expected", "Report", "__version__", "assess"]


def __getattr__(name: str) -> Any:
    """Import on first use: `coach --help` needs neither numpy nor aubio."""
    if name in ("assess", "Expected"):
        from coach import assessment

        return getattr(assessment, name)
    if name == "Report":
        from coach.core.report import Report

        return Report
    raise AttributeError(f"module 'coach' has no attribute {name!r}")
