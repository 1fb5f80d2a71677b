"""A practice book of 100,000 takes: its size, and how long it keeps the player waiting."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from coach.book.practice import PracticeBook
from tests.benchmarks.book import TAKES, fill
from tests.benchmarks.scorecard.processes import ROOT, environment
from tests.benchmarks.scorecard.rows import Figure

TIMES, QUICK_TIMES = 5, 1


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.BOOK."""
    times = QUICK_TIMES if quick else TIMES
    with tempfile.TemporaryDirectory() as home:
        path = Path(home) / "practice.sqlite"
        with contextlib.redirect_stdout(io.StringIO()):
            fill(path)
        PracticeBook(path).close()  # checks it, and backs it up, once in a while
        opening_s = _middle(lambda: PracticeBook(path).close(), times)
        review_s, today_s = (
            _middle(lambda command=command: _command(command, home), times)
            for command in ("review", "today")
        )
        size_mb = os.stat(path).st_size / 1e6
    n = f"{TAKES:,}"
    return {
        "size": Figure(size_mb, None, n),
        "opening": Figure(1000 * opening_s, None, n),
        "review": Figure(review_s, None, n),
        "today": Figure(today_s, None, n),
    }


def _middle(call: Callable[[], Any], times: int) -> float:
    """Seconds on the wall."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        call()
        taken.append(time.perf_counter() - begun)
    return median(taken)


def _command(command: str, home: str) -> None:
    words = [sys.executable, "-m", "coach", command]
    given = environment(COACH_HOME=home)
    subprocess.run(words, cwd=ROOT, env=given, stdout=subprocess.DEVNULL, check=True)
