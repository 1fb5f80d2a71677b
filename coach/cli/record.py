"""What the practice book tells of one player on one instrument, read in one go."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.saying import print
from coach.cli.wrapping import for_errors
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.book.rows import TakeRow
    from coach.core.planning.facts import DayLoad, PlannedDay
    from coach.core.planning.goals import Goal
    from coach.core.profile.tally import Tally

# Older takes weigh next to nothing (the profile's half-life is 30 days).
LOOKED_AT_DAYS = 120


@dataclass(frozen=True, slots=True)
class Record:
    """The last `LOOKED_AT_DAYS`, oldest first.

    `worked` are the takes of passages worked at, `takes` all of them on this instrument, courses
    with them; `known` the titles and goals of drills whose files are there.
    """

    player: str
    instrument: str
    today: int
    takes: Sequence[TakeRow]
    worked: Sequence[TakeRow]
    known: dict[str, tuple[str, float]]
    goals: Sequence[Goal]
    elsewhere: Sequence[DayLoad]
    planned: Sequence[PlannedDay]
    concert_day: int | None
    tallies: Sequence[Tally]


def book_path() -> Path:
    """Where the player's own practice book lies, if there is one."""
    from coach.files.configs import own_folder

    return own_folder() / "practice.sqlite"


def add_player_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--player", metavar="NAME", help="whose record (default: who plays now, see `coach player`)"
    )


@contextlib.contextmanager
def own_book(
    player: str | None = None, *, make: bool = False, at_once: bool = False
) -> Iterator[PracticeBook]:
    """The practice book, open outside a session; what it has to say is told, at the end or, with
    `at_once`, before anything else.

    CoachError for an unknown player, and if there is no book yet (unless a book is to be made).
    """
    from coach.book.practice import PracticeBook

    path = book_path()
    if not (make or path.exists()):
        raise _nothing_there(path.parent)
    with _told_of(PracticeBook(path, player), at_once=at_once) as book:
        yield book


def _nothing_there(home: Path) -> CoachError:
    """A drive that is not plugged in looks like a player who has not begun: say where we looked."""
    if home.exists() and not home.is_dir():
        hint = "set COACH_HOME to a folder you can write to"
        return CoachError("this is a file, not a folder", str(home), hint)
    if _is_chosen() and not home.exists():
        hint = "if it should be there, plug the drive in or set COACH_HOME; else: coach warmup"
        return CoachError(f"there is no practice book in {home}", "", hint)
    return CoachError("nothing has been played yet", "", "begin with: coach warmup")


def _is_chosen() -> bool:
    """Whether the player said where the book lies."""
    return bool(os.environ.get("COACH_HOME"))


def no_book() -> str:
    """What to tell a player who has no book: of one chosen place it may only be out of sight."""
    if not _is_chosen():
        return "Nothing has been played yet."
    home = book_path().parent
    there = "if it should be there, plug the drive in or set COACH_HOME"
    return f"No practice book in {home}: {there}. Nothing has been played here yet."


@contextlib.contextmanager
def _told_of(book: PracticeBook, *, at_once: bool) -> Iterator[PracticeBook]:
    """Closed at the end, its remarks told, and where the takes are that it could not keep; an error
    about the book stands for remarks that tell the same."""
    told = len(book.remarks) if at_once else 0
    _say(book.remarks[:told])
    known = ""
    try:
        with book:
            yield book
    except CoachError as error:
        known = book.hindrance if error.where == str(book.path) else ""
        raise
    finally:
        _say([one for one in book.remarks[told:] if not known or known not in one])
        if book.kept_nowhere is not None:
            from coach.cli.putby import put_by

            _say([remark for remark in (put_by(book),) if remark])


def _say(remarks: Sequence[str]) -> None:
    for remark in remarks:
        print(for_errors(remark), file=sys.stderr)


def recorded(book: PracticeBook, instrument: str | None) -> Record:
    """What the book tells of the instrument (None: the one played last); CoachError for an unknown
    one."""
    if instrument is not None:
        from coach.files.configs import load_instrument

        load_instrument(instrument)
    today, diary = book.today(), book.diary
    since = today - LOOKED_AT_DAYS
    rows = book.take_rows(since)
    name = instrument or (rows[-1].instrument if rows else _unplayed(book))
    # By day, for the clock may have been set back between two takes.
    takes = sorted((row for row in rows if row.instrument == name), key=lambda row: row.day)
    goals = diary.goals(name)
    worked = [row for row in takes if not of_course(row.drill)]
    return Record(
        book.player,
        name,
        today,
        takes,
        worked,
        _known({row.drill for row in worked} | {goal.drill for goal in goals}),
        goals,
        diary.elsewhere(since),
        diary.planned(name, since),
        diary.concert_day(name),
        book.tallies(name, since),
    )


def _unplayed(book: PracticeBook) -> str:
    """The instrument of who has not played of late: the chosen one, else that of a goal."""
    goals = book.diary.goals()
    return book.instrument() or (goals[-1].instrument if goals else "")


def of_course(drill: str) -> bool:
    """Whether takes under this name are of a warm-up or of a day's building: what a day's kind of
    work makes of a passage, not the passage."""
    from coach.core.course import BUILD_SUFFIX
    from coach.core.warmup import WARMUP

    return drill.startswith(WARMUP) or drill.endswith(BUILD_SUFFIX)


def _known(names: set[str]) -> dict[str, tuple[str, float]]:
    """Titles and goals of the drills whose files are there."""
    from coach.files.drillshelf import load_drill

    found = {}
    for name in names:
        with contextlib.suppress(CoachError):
            drill, _ = load_drill(name)
            found[name] = (drill.title, drill.to_bpm)
    return found
