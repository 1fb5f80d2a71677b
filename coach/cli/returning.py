"""`coach return`: what was made of a teacher's assignment, as a file for the teacher."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import day_of
from coach.cli.record import add_player_option, own_book
from coach.cli.saying import print
from coach.cli.sharing import check_target, counted, drill_records, header, write_leaving
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.leaving import Leaving
    from coach.book.practice import PracticeBook
    from coach.core.assignment import Assignment


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "return",
        help="your takes of an assignment, as a file for the teacher",
        description="Write the takes of an assignment's drills since it came, their goals and"
        " ceilings to a file.  Nothing else of your record is in it, and no sound.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help=".jsonl")
    parser.add_argument("--assignment", metavar="TITLE", help="or its uid (default: the last one)")
    parser.add_argument("--since", metavar="DATE", help="(default: since it came)")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    add_player_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.book.leaving import ExportChoice, Leaving, received_day

    check_target(args.file, (".jsonl",), replace=args.replace)
    with own_book(args.player) as book:
        assignment = _assignment(book, args.assignment)
        drills = frozenset(goal.drill for goal in assignment.goals)
        received = received_day(book, assignment.uid)
        since_day = day_of(args.since, "--since") if args.since else received
        leaving = Leaving(book, ExportChoice(drills, since_day))
        write_leaving(args.file, leaving, _records(book, leaving, assignment), "writing")
        takes = counted({"take": len(leaving.takes)})
        print(f"Written: {args.file}, {takes} for {assignment.title}")
        _tell_nameless(book.player)
    return 0


def _assignment(book: PracticeBook, wanted: str | None) -> Assignment:
    """By uid or title; the last one received."""
    found = book.diary.assignments()
    if not found:
        hint = "take one in with: coach import FILE"
        raise CoachError("there is no assignment", "return", hint)
    if wanted is None:
        return found[0]
    for one in found:
        if wanted == one.uid or wanted.casefold() == one.title.casefold():
            return one
    titles = ", ".join(f'"{one.title}"' for one in found[:10])
    raise CoachError(f'there is no assignment "{wanted}"', "", f"there are: {titles}")


def _records(
    book: PracticeBook, leaving: Leaving, assignment: Assignment
) -> Iterator[dict[str, Any]]:
    yield header(book.moment().utc, "return", leaving.player(), assignment.uid)
    yield from drill_records(leaving.drills)
    yield from leaving.passages()
    yield from leaving.sessions()
    yield from (one for one in leaving.assignments() if one["uid"] == assignment.uid)
    yield from leaving.goals()
    yield from leaving.take_records()
    yield from leaving.ceilings()


def _tell_nameless(player: str) -> None:
    from coach.book.players import NAMELESS

    if player == NAMELESS:
        print(f"You have no name yet. Give one first: coach player {NAMELESS} --rename NAME")
