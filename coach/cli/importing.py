"""`coach import`: take in a file of records, or what a teacher set."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.record import own_book
from coach.cli.saying import print
from coach.cli.sharing import counted, progress, usual_fingerings
from coach.cli.typed import typed
from coach.errors import CoachError, FileError

if TYPE_CHECKING:
    from coach.book.merger import Merged
    from coach.book.practice import PracticeBook
    from coach.core.share.whose import Whose
    from coach.files.share.drills import ArrivingDrills

Placed = tuple[str, dict[str, Any]]
_NEWER = "a newer coach may know it"


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "import",
        help="take in a file that coach export, assign or return wrote",
        description="Take in a file of records: all of it, or nothing if a line is wrong; what is"
        " there already does not come twice.  It goes to the player it is of, who is new here if"
        " not known; an assignment goes to who plays.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help=".jsonl")
    parser.add_argument("--player", metavar="NAME", help="whose it is (default: as the file says)")
    parser.add_argument("--as", dest="called", metavar="NAME", help="the new player's name here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.files.share.lines import read_records

    if args.called is not None and args.player is not None:
        what = "--as is for a new player, --player for one who is here"
        raise CoachError(what, "import", "give one of them")
    with progress("reading", _size(args.file)) as done:
        lines = _received(args, read_records(args.file, done))
    print("\n".join(lines))
    return 0


def _received(args: argparse.Namespace, records: Iterator[Placed]) -> list[str]:
    """Take it in; what there is to say about it."""
    first = next(records)
    purpose, player = first[1]["purpose"], first[1]["player"]
    if (purpose == "assignment") != (player is None):
        raise FileError("the header of this file names no player", first[0], "ask for it again")
    if player is None:
        from coach.cli.assigned import receive

        return receive(args, records)
    return _take_in(args, first, records)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except (OSError, ValueError):  # told by who opens it
        return 0


def _take_in(args: argparse.Namespace, first: Placed, records: Iterator[Placed]) -> list[str]:
    from coach.book.merging import merge
    from coach.files.share.drills import ArrivingDrills

    drills = ArrivingDrills()
    with own_book(args.player, make=True) as book:
        who = _whose(args, book, first[1])
        try:
            merged = merge(
                book,
                who,
                known(chain([first], with_drills(records, drills))),
                usual_fingerings(),
                before_end=drills.write,
            )
        except BaseException:
            drills.take_back()
            raise
        returned = first[1]["purpose"] == "return"
        return [*_lines(who, merged, drills, book.player, returned=returned)]


def with_drills(records: Iterator[Placed], drills: ArrivingDrills) -> Iterator[Placed]:
    """The records, drill files gathered on the way."""
    for where, record in records:
        if record["record"] == "drill":
            drills.add(record["name"], record["text"], where)
        yield where, record


def known(records: Iterator[Placed]) -> Iterator[Placed]:
    """The records; FileError for an instrument or a rule set that there is not: nothing could be
    made of what was played then."""
    from coach.files.configs import instrument_names, rules_names

    instruments, rules = {None, *instrument_names()}, {None, *rules_names()}
    for where, record in records:
        played = record.get("player") or {}
        for name in (
            record.get("instrument"),
            played.get("chosen"),
            *played.get("instruments", ()),
        ):
            if name not in instruments:
                raise FileError(f'there is no instrument "{name}"', where, _NEWER)
        if record.get("rules") not in rules:
            raise FileError(f'there is no rule set "{record["rules"]}"', where, _NEWER)
        yield where, record


def _whose(args: argparse.Namespace, book: PracticeBook, head: dict[str, Any]) -> Whose:
    from coach.cli.player import checked_name
    from coach.core.share.whose import whose

    called = None if args.called is None else checked_name(args.called)
    players = book.players()
    # What somebody returns never becomes the teacher's own.
    nameless = _nameless(book) if head["purpose"] == "export" else None
    told = head["player"]
    name = checked_name(told["name"])
    return whose(name, told["uid"], players, nameless=nameless, into=args.player, called=called)


def _nameless(book: PracticeBook) -> Any:
    """The only player of a book that nothing was kept in, as long as nobody gave a name."""
    from coach.book.players import NAMELESS

    players = book.players()
    tables = ("takes", "goals", "elsewhere", "assignments", "ceilings", "plans")
    kept = any(book.rows(f"SELECT 1 FROM {table} LIMIT 1") for table in tables)
    alone = len(players) == 1 and players[0].name == NAMELESS
    return players[0] if alone and not kept else None


def _lines(
    who: Whose, merged: Merged, drills: ArrivingDrills, plays: str, *, returned: bool
) -> Iterator[str]:
    new, there = counted(merged.new), counted(merged.there)
    yield f"{who.name}: {f'new: {new}' if new else 'nothing new'}"
    if there:
        yield f"there already: {there}"
    yield from drill_lines(drills)
    if who.new and not returned:
        command = typed("coach", "player", who.name)
        yield f"{who.name} is new here. To play as {who.name}: {command}"
    elif who.name != plays:
        yield f"To see it: {typed('coach', 'review', '--player', who.name)}"


def drill_lines(drills: ArrivingDrills) -> Iterator[str]:
    """What became of the drill files."""
    if drills.written:
        yield f"new drills: {', '.join(drills.written)}"
    for name, here in drills.names.items():
        if here != name:
            yield f"There is a different drill {name} here; the one of the file is {here}."
