"""The shared scores, and music21 reading them."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

from tests.benchmarks.scorecard.processes import SHARED

SCORES = SHARED / "scores"


def movements() -> list[Path]:
    """The smallest first."""
    return sorted((SCORES / "orchestra").glob("*.mxl"), key=lambda path: path.stat().st_size)


def music21_of(path: Path) -> Any:
    """Not out of its cache of files read before."""
    from music21.converter import parse

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return parse(path, forceSource=True, storePickle=False)
