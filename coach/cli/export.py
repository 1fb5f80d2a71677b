"""`coach export`: a player's record, or a part of it, as a file for another coach or program."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import day_of
from coach.cli.record import add_player_option, own_book
from coach.cli.saying import print
from coach.cli.sharing import (
    check_target,
    counted,
    drill_records,
    header,
    progress,
    tell_left_out,
    write_leaving,
)
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.leaving import ExportChoice, Leaving
    from coach.book.practice import PracticeBook


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "export",
        help="the record of your practice as a file",
        description="Write a player's record to a file: .jsonl has everything, for another coach"
        " (coach import) or program; .csv has a row for each take, for a spreadsheet.  The sound"
        " of takes is left out.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help=".jsonl or .csv")
    parser.add_argument("--drill", action="append", metavar="NAME", help="only this, or several")
    parser.add_argument("--since", metavar="DATE", help="only from this day on")
    parser.add_argument("--notes", action="store_true", help=".csv: a row for each note")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    add_player_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.book.leaving import Leaving

    check_target(args.file, (".jsonl", ".csv"), replace=args.replace)
    table = args.file.suffix.lower() == ".csv"
    if args.notes and not table:
        raise CoachError("--notes is for .csv", str(args.file), "a .jsonl has all notes anyway")
    choice = _choice(args)
    with own_book(args.player) as book:
        leaving = Leaving(book, choice)
        _check_there(args, leaving)
        if table:
            _write_table(args, book, leaving)
        else:
            write_leaving(args.file, leaving, _records(book, leaving, choice), "writing")
        print(f"Written: {args.file}, {counted({'take': len(leaving.takes)})} of {book.player}")
    return 0


def _choice(args: argparse.Namespace) -> ExportChoice:
    from coach.book.leaving import ExportChoice

    passages = None if args.drill is None else frozenset(args.drill)
    return ExportChoice(passages, 0 if args.since is None else day_of(args.since, "--since"))


def _check_there(args: argparse.Namespace, leaving: Leaving) -> None:
    """A name that nothing is kept under is a slip."""
    from coach.core.planning.worked import passage_of

    there = leaving.drills | {passage_of(name) for name in leaving.drills}
    for name in args.drill or ():
        if name not in there:
            since = f" since {args.since}" if args.since else ""
            hint = "coach review tells what was played"
            raise CoachError(f'nothing of "{name}" was kept{since}', "--drill", hint)


def _records(
    book: PracticeBook, leaving: Leaving, choice: ExportChoice
) -> Iterator[dict[str, Any]]:
    """What a line refers to stands before it."""
    yield header(book.moment().utc, "export", leaving.player(), None)
    yield from drill_records(leaving.drills)
    yield from leaving.passages()
    yield from leaving.sessions()
    yield from leaving.assignments()
    yield from leaving.goals()
    yield from leaving.take_records()
    yield from leaving.ceilings()
    if choice.passages is None:
        yield from leaving.elsewhere()
        yield from leaving.plans()


def _write_table(args: argparse.Namespace, book: PracticeBook, leaving: Leaving) -> None:
    from coach.core.share.cells import NOTE_COLUMNS, TAKE_COLUMNS, note_rows, take_row
    from coach.files.share.table import write_table

    with progress("writing", len(leaving.takes)) as done:

        def rows() -> Iterator[list[Any]]:
            for record in leaving.take_records():
                if args.notes:
                    yield from note_rows(book.player, record)
                else:
                    yield take_row(book.player, record)
                done(1)

        write_table(args.file, NOTE_COLUMNS if args.notes else TAKE_COLUMNS, rows())
    tell_left_out(leaving.left_out)
