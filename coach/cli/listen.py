"""`coach listen`: hear your own takes again, slower, with what was said of each note."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import within
from coach.cli.record import add_player_option, own_book
from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.cli.replaying import KeptTake, Wish

SLOWEST, USUAL = 0.25, 0.5
LIST_HINT = "coach listen --list shows what there is"


def add(commands: Any) -> None:
    parser = commands.add_parser("listen", help="hear your takes again, slower")
    parser.add_argument(
        "take", nargs="?", default="last", metavar="TAKE", help="last (default), best, or a number"
    )
    parser.add_argument(
        "--drill", metavar="NAME", help="of this drill (default: the one played last)"
    )
    add_player_option(parser)
    parser.add_argument(
        "--speed", type=float, default=USUAL, metavar="SHARE", help="0.25 to 1 (default 0.5)"
    )
    parser.add_argument("--from-note", type=int, metavar="N", help="begin at this note, from 1")
    parser.add_argument("--from-bar", type=int, metavar="N", help="begin at this bar")
    parser.add_argument(
        "--against", metavar="TAKE", help="another take first: best, or a number; then note by note"
    )
    parser.add_argument("--no-click", action="store_true", help="the take alone")
    parser.add_argument("--list", action="store_true", help="the takes that have sound")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write a sound file instead")
    parser.add_argument("--output-device", metavar="NAME", help="where it sounds")
    parser.add_argument("--pedal", metavar="NAME", help="MIDI input with a pedal")
    parser.add_argument("--plain", action="store_true", help="lines of text, for pipes")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.replaying import Wish, piece_of
    from coach.cli.soundkeeping import own_sounds

    within(args.speed, "--speed", SLOWEST, 1)
    with own_book(args.player) as book:
        if args.list:
            _list(book, args.drill)
            return 0
        kept = _chosen(book, args)
    pieces = [piece_of(one, own_sounds()) for one in kept]
    wishes = [
        Wish(piece, _begin(piece, args, clicks=not args.no_click), not args.no_click)
        for piece in pieces
    ]
    if args.out:
        _write(wishes, args)
    else:
        _play(wishes, args)
    _sum_up(pieces)
    return 0


def _list(book: PracticeBook, drill: str | None) -> None:
    """The takes that have sound, oldest first."""
    from coach.cli.soundkeeping import own_sounds
    from coach.screen.words import percent

    sounds = own_sounds().sizes()
    rows = [row for row in _rows(book, drill, of_last=False) if row.uid in sounds]
    if not rows:
        print("No take has its sound: coach drill keeps it while you play.")
    for row in rows:
        day = date.fromordinal(row.day)
        share = percent(row.accuracy)
        print(f"{row.id:>6}  {day}  {row.drill:<24} {row.tempo_bpm:>5g}  {share:>5} clean")


def _rows(book: PracticeBook, drill: str | None, *, of_last: bool = True) -> list[Any]:
    """The takes of one drill, oldest first; `of_last`: of the one played last, if none is named."""
    rows = book.take_rows()
    if not rows:
        raise CoachError("nothing has been played yet", "", "begin with: coach warmup")
    if drill is None and of_last:
        drill = rows[-1].drill
    mine = [row for row in rows if drill in (None, row.drill)]
    if not mine:
        raise CoachError(f'there is no take of "{drill}"', "--drill", LIST_HINT)
    return mine


def _chosen(book: PracticeBook, args: argparse.Namespace) -> list[Any]:
    """The takes to hear, the other one (`--against`) first."""
    if args.take not in ("last", "best") and args.drill is not None:
        raise CoachError("--drill goes with last and best", "", "leave it out")
    take = _take(book, args.take, args.drill)
    if args.against is None:
        return [take]
    if args.against == "last":
        raise CoachError("--against last is no other take", "", "use best, or a number")
    other = _take(book, args.against, take.drill, but=take.id)
    from coach.core.playback import same_passage

    if not same_passage(take.take.plan, other.take.plan):
        what = f"take {other.id} is of other notes than take {take.id}"
        raise CoachError(what, "--against", LIST_HINT)
    return [other, take]


def _take(book: PracticeBook, wanted: str, drill: str | None, but: int | None = None) -> Any:
    """The take wanted, other than number `but`."""
    if wanted in ("last", "best"):
        rows = [row for row in _rows(book, drill) if row.id != but]
        if not rows:
            raise CoachError("there is only this one take of it", "--against", "play it once more")
        number = (rows[-1] if wanted == "last" else max(rows, key=_standing)).id
    elif wanted.isdecimal():
        number = int(wanted)
    else:
        raise CoachError(f"{wanted} is no take", "", "use last, best or a number")
    if number == but:
        raise CoachError(f"take {number} can't be held against itself", "--against", LIST_HINT)
    kept = book.kept(number) if number < 1 << 63 else None
    if kept is None:
        raise CoachError(f"there is no take {number}", "", LIST_HINT)
    return kept


def _standing(row: Any) -> Any:
    from coach.core.soundbudget import standing

    return standing(row.tempo_bpm, row.accuracy, row.id, passed=row.passed)


def _begin(piece: KeptTake, args: argparse.Namespace, *, clicks: bool) -> int:
    """The frame of the take at which it begins; CoachError for a note or bar that is not there."""
    from coach.core.playback import begin_frame

    plan = piece.kept.take.plan
    passage = plan.exercise.passage
    note = bar = None
    if args.from_note is not None and args.from_bar is not None:
        raise CoachError("--from-note and --from-bar are two beginnings", "", "give one of them")
    if args.from_note is not None:
        note = int(within(args.from_note, "--from-note", 1, len(plan.dues))) - 1
    if args.from_bar is not None:
        last = passage.first_bar + len(passage.bars) - 1
        bar = int(within(args.from_bar, "--from-bar", passage.first_bar, last)) - passage.first_bar
    return begin_frame(plan, piece.report, note=note, bar=bar, clicks=clicks)


def _write(wishes: Sequence[Wish], args: argparse.Namespace) -> None:
    from coach.cli.replaying import rendered
    from coach.files.audio import write_audio
    from coach.hear.onethread import one_thread

    with one_thread():
        samples, rate = rendered(wishes, args.speed)
    for notice in sorted({wish.piece.notice for wish in wishes} - {""}):
        print(f"coach: {notice}", file=sys.stderr)
    write_audio(args.out, samples, rate)
    print(f"{args.out}: {len(samples) / rate:.1f} s")


def _play(wishes: Sequence[Wish], args: argparse.Namespace) -> None:
    from coach.cli.opening import pedal_beside, settings
    from coach.cli.replaying import Replaying
    from coach.files.configs import load_keys
    from coach.hear.onethread import one_thread
    from coach.ports.base import open_sound
    from coach.ports.keys import Keys, Together
    from coach.ports.pedal import Pedal
    from coach.ports.signals import Halts
    from coach.screen import make_screen

    sound, keys_of = settings(), load_keys()
    with contextlib.ExitStack() as stack:
        port = open_sound(sound, None, args.output_device, listens=False)
        stack.enter_context(contextlib.closing(port))
        port.open()
        pedal = pedal_beside(args, sound, Pedal(keys_of["pedal"]), stack)
        keys = stack.enter_context(Keys(keys_of["keys"]))
        rules = wishes[-1].piece.rules
        screen = make_screen(plain=args.plain, rules=rules, hint=keys.hint)
        stack.enter_context(screen)
        halts = stack.enter_context(Halts(keys, screen))
        controls = Together(halts, keys, *([pedal] if pedal else []))
        stack.enter_context(one_thread())
        with contextlib.suppress(KeyboardInterrupt):
            Replaying(port, screen, controls, wishes, args.speed).run()


def _sum_up(pieces: Sequence[KeptTake]) -> None:
    """What was heard in a line each; of two takes, note by note."""
    from rich.console import Console

    from coach.screen.beside import beside
    from coach.screen.words import counts_line

    for piece in pieces:
        bpm = piece.kept.take.plan.exercise.tempo_bpm
        print(f"{piece.title}, take {piece.kept.id} at {bpm:g}: {counts_line(piece.report)}")
    if len(pieces) == 2:
        one, two = ((f"take {p.kept.id}", p.report) for p in pieces)
        page = beside(one, two, pieces[-1].kept.take.plan.exercise)
        Console(highlight=False).print(page)
