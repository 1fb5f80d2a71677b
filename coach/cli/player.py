"""`coach player`: who plays; takes, goals and plans are kept for each player apart."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from coach.cli.record import book_path, own_book
from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook


def add(commands: Any) -> None:
    parser = commands.add_parser("player", help="who plays; new players; erase one")
    parser.add_argument("name", nargs="?", metavar="NAME", help="who plays from now on")
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--new", action="store_true", help="NAME is new here")
    how.add_argument("--rename", metavar="NEW", help="NAME is called NEW from now on")
    how.add_argument("--erase", action="store_true", help="everything about NAME, for good")
    parser.add_argument("--instrument", metavar="NAME", help="what NAME plays")
    parser.add_argument("--yes", action="store_true", help="erase without asking")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.name is None:
        if args.new or args.rename or args.erase or args.instrument:
            hint = "write the name first: coach player NAME --new"
            raise CoachError("no player is named", "player", hint)
        with own_book(make=True) as book:
            _show(book)
        return 0
    if args.instrument:
        from coach.files.configs import load_instrument

        load_instrument(args.instrument)
    if args.erase:
        return _erase(args)
    if args.new:
        with own_book(make=True) as book:
            _add(book, checked_name(args.name))
    with own_book(args.name, make=True) as book:
        _choose(book, args)
        _show(book)
    return 0


def checked_name(name: str) -> str:
    """The name without blanks around it; CoachError if nobody can be called so."""
    from coach.book.players import LONGEST_NAME

    name = name.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        hint = f"use 1 to {LONGEST_NAME} letters"
        raise CoachError("this can't be a player's name", "player", hint)
    return name


def _add(book: PracticeBook, name: str) -> None:
    from coach.book.players import add_player

    _check_free(book, name)
    book.rewrite(lambda db: add_player(db, name))


def _choose(book: PracticeBook, args: argparse.Namespace) -> None:
    from coach.book.players import choose_instrument, choose_player, rename_player

    name = args.name
    if args.rename is not None:
        name = checked_name(args.rename)
        _check_free(book, name)
        book.rewrite(lambda db: rename_player(db, args.name, name))
    book.rewrite(lambda db: choose_player(db, name, book.moment().utc))
    if args.instrument:
        player = book.player_id()
        book.rewrite(lambda db: choose_instrument(db, player, args.instrument))


def _check_free(book: PracticeBook, name: str) -> None:
    if any(player.name == name for player in book.players()):
        raise CoachError(f'there is a player "{name}" already', "", f"choose: coach player {name}")


def _show(book: PracticeBook) -> None:
    from coach.book.players import NAMELESS

    players = book.players()
    alone = [player.name for player in players] == [NAMELESS]
    for player in players:
        name = "nobody has a name yet" if alone else player.name
        takes = f"{player.takes} take{'s' if player.takes != 1 else ''}"
        mark = "plays now" if player.chosen and not alone else ""
        print(", ".join(filter(None, (name, takes, player.instrument, mark))), end="")
        print(f"; name yourself: coach player {NAMELESS} --rename IDA" if alone else "")


def _erase(args: argparse.Namespace) -> int:
    from coach.book.erasing import erase_player
    from coach.cli.soundkeeping import drop_sounds

    if not book_path().exists():
        raise CoachError("nothing has been played yet", "", "there is nothing to erase")
    with own_book(args.name) as book:
        if not (args.yes or _sure(args.name, len(book.take_rows()))):
            print("Nothing was erased.")
            return 0
        drop_sounds(row.uid for row in book.take_rows())
        erase_player(book)
    print(f"Everything about {args.name} is erased, but for what was exported to files.")
    return 0


def _sure(name: str, takes: int) -> bool:
    print(f"Erase {name}, {takes} takes, for good, backups too? Type the name to do it: ", end="")
    sys.stdout.flush()
    return sys.stdin.readline().strip() == name
