"""How long commands take to start, beside Python that does nothing, or imports what we need."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median

from coach.book.practice import PracticeBook
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.benchmarks.book import one_take
from tests.benchmarks.scorecard.processes import ROOT, environment
from tests.benchmarks.scorecard.rows import COMMANDS, Figure
from tests.book.making import drill_of

TIMES, QUICK_TIMES = 7, 3
BESIDE = {"bare": ["-c", "pass"], "scipy": ["-c", "import numpy, scipy"]}


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.STARTING: medians of seconds on the wall, one after the other by turns."""
    times = QUICK_TIMES if quick else TIMES
    words = {command: ["-m", "coach", command] for command in COMMANDS} | BESIDE
    taken: dict[str, list[float]] = {name: [] for name in words}
    with tempfile.TemporaryDirectory() as home:
        _begin(home)
        for name in words:
            _seconds(words[name], home)  # files that were never read before
        for _ in range(times):
            for name in words:
                taken[name].append(_seconds(words[name], home))
    middle = {name: median(seconds) for name, seconds in taken.items()}
    return {
        f"{command} {beside}": Figure(middle[command], middle[beside], f"{times} times")
        for command in COMMANDS
        for beside in BESIDE
    }


def _begin(home: str) -> None:
    """A book with one take: without any there is nothing to plan."""
    take = one_take(0, Random(1))
    with PracticeBook(Path(home) / "practice.sqlite") as book:
        book.append(take, judge_take(take, Rules()), drill_of(take, "drill-0"))


def _seconds(words: list[str], home: str) -> float:
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        env=environment(COACH_HOME=home),
        stdout=subprocess.DEVNULL,
        check=True,
    )
    return time.perf_counter() - begun
