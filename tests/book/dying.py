"""How a coach dies in these tests: at any instant of the clock, at any step of sqlite's machine, at
any line of the book's own code, or in the middle of a write.

A clock alone would nearly always miss the microseconds in which a file is half written.
"""

from __future__ import annotations

import os
import resource
import signal
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from random import Random
from typing import NoReturn

# What a coach does, given where to say what is done.
Work = Callable[[int], None]
Death = Callable[[], None]
BOOK = os.sep + os.path.join("coach", "book") + os.sep
# Pages that sqlite holds in memory: what is changed beyond them is written before the commit, as in
# a transaction that is larger than the memory.
FEW_PAGES = 4
STEPS_AT_ONCE = 3


@dataclass(frozen=True, slots=True)
class Life:
    """How long the work is if nobody is killed."""

    seconds: float
    steps: int
    lines: int

    def death(self, number: int, rng: Random, sizes: tuple[int, int]) -> Death:
        """One kind after the other, at a random instant; the last kind when a file grows to a size
        (in bytes) between these two."""
        kinds: tuple[Callable[[], Death], ...] = (
            lambda: _at_time(rng.uniform(0, self.seconds)),
            lambda: _at_step(rng.randint(1, self.steps)),
            lambda: at_line(rng.randint(1, self.lines)),
            lambda: _at_size(rng.randint(*sizes)),
        )
        return kinds[number % len(kinds)]()


def life_of(work: Work, again: Callable[[], None] = lambda: None) -> Life:
    """Measured in two runs, `again` between them."""
    begun = time.perf_counter()
    run(work)
    seconds = time.perf_counter() - begun
    again()
    told, _ = run(lambda out: _counted(work, out))
    steps, lines = map(int, told[-1].split())
    return Life(seconds, steps, lines)


def at_line(number: int) -> Death:
    return lambda: _on_lines(_killer(number))


def run(work: Work, death: Death | None = None) -> tuple[list[str], bool]:
    """The lines that it said, and whether it was killed; AssertionError if it failed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _be_a_coach(work, writing, death)
    os.close(writing)
    with os.fdopen(reading) as said:
        told = [line.rstrip("\n") for line in said if line.endswith("\n")]
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status)
    assert killed or status == 0, "the coach failed"
    return told, killed


def _be_a_coach(work: Work, out: int, death: Death | None) -> NoReturn:
    try:
        if death:
            death()
        work(out)
        os._exit(0)
    except BaseException:
        sys.excepthook(*sys.exc_info())
        os._exit(1)


def _counted(work: Work, out: int) -> None:
    steps, lines = count(), count()
    _on_steps(lambda: next(steps))
    _on_lines(lambda: next(lines))
    work(out)
    sys.settrace(None)
    os.write(out, f"{next(steps)} {next(lines)}\n".encode())


def _at_time(seconds: float) -> Death:
    def begin() -> None:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_REAL, max(seconds, 1e-6))

    return begin


def _at_step(number: int) -> Death:
    return lambda: _on_steps(_killer(number))


def _at_size(size: int) -> Death:
    """The write that would make a file larger is cut off there, and the next one kills."""

    def begin() -> None:
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return begin


def _killer(number: int) -> Callable[[], None]:
    counted = count(1)

    def kill() -> None:
        if next(counted) >= number:
            os.kill(os.getpid(), signal.SIGKILL)

    return kill


def _on_steps(call: Callable[[], object]) -> None:
    """Called every few steps of every connection opened from now on, which has little memory."""
    connect = sqlite3.connect

    def watched(*args, **named):
        db = connect(*args, **named)
        db.execute(f"PRAGMA cache_size = {FEW_PAGES}")
        db.set_progress_handler(lambda: call() and None, STEPS_AT_ONCE)
        return db

    sqlite3.connect = watched


def _on_lines(call: Callable[[], object]) -> None:
    """Called at every line of the book's code."""

    def line(frame, event, _):
        if event == "line":
            call()
        return line

    def entered(frame, event, _):
        return line if BOOK in frame.f_code.co_filename else None

    sys.settrace(entered)


@contextmanager
def opened(place: Path) -> Iterator[sqlite3.Connection]:
    """The file as sqlite finds it after a kill; it must be sound."""
    db = sqlite3.connect(place)
    try:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)], place
        assert db.execute("PRAGMA foreign_key_check").fetchall() == [], place
        yield db
    finally:
        db.close()
