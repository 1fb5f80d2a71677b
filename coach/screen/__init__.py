"""Pictures and lines for the terminal: pure functions from data to rich renderables.

Names are imported on first use, so that `coach --help` does without rich.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coach.screen.choice import make_screen, show_course, show_summary
    from coach.screen.pages import (
        CheckResult,
        DeviceRow,
        check_panel,
        devices_table,
        drill_page,
        drills_table,
    )
    from coach.screen.table import report_table

__all__ = [
    "CheckResult",
    "DeviceRow",
    "check_panel",
    "devices_table",
    "drill_page",
    "drills_table",
    "make_screen",
    "report_table",
    "show_course",
    "show_summary",
]

_MODULES = {
    "make_screen": "choice",
    "show_course": "choice",
    "show_summary": "choice",
    "report_table": "table",
}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULES.get(name, 'pages')}"), name)
