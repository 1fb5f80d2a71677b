"""Takes for the tests of the book."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from coach.book.practice import PracticeBook
from coach.core.exercise import ClickStyle, Drill
from coach.core.judge import judge_take
from coach.core.profile.tally import Tally
from coach.core.rules import Rules
from coach.core.take import Gap, Take
from tests.making import attacks_of, plan_of, scale


def take_of(notes: int = 8, tempo_bpm: float = 120.0) -> Take:
    """A scale with its third note late and a gap at the sixth."""
    plan = plan_of(
        scale(notes=notes),
        length_beats=Fraction(1, 3),
        tempo_bpm=tempo_bpm,
        click=ClickStyle(off_bars=(2, 1)),
    )
    gaps = (Gap(plan.dues[5].frame, 99),) if notes > 5 else ()
    return Take(3, plan, tuple(attacks_of(plan, {2: 4000})), gaps, False, lost_frames=99)


def numbered(take: Take, number: int) -> Take:
    """The same take but for its tempo, by which `TakeRow` tells it."""
    return replace(take, plan=replace(take.plan, exercise=take.plan.exercise.at(number)))


def drill_of(take: Take, name: str = "d") -> Drill:
    return Drill(name, "D", "", (take.plan.exercise.passage,))


def keep(book: PracticeBook, take: Take | None = None, drill: str = "d", *tallies: Tally) -> str:
    take = take or take_of()
    return book.append(take, judge_take(take, Rules()), drill_of(take, drill), tallies)


def filled(path: Path, takes: int, first: int = 1) -> None:
    with PracticeBook(path) as book:
        for number in range(first, first + takes):
            keep(book, numbered(take_of(), number))


def spoil(path: Path) -> None:
    """The last third, evidence and an index of takes, is overwritten; the schema is not."""
    pages = path.stat().st_size // 4096
    with path.open("r+b") as file:
        file.seek(pages * 2 // 3 * 4096)
        file.write(b"\x5a" * 4096 * (pages - pages * 2 // 3))
