"""`coach warmup`: the warm-up of the day, as long as there is time for."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from coach.cli.options import add_input_options, add_screen_options, within
from coach.cli.own import instrument_for
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.instrument import Instrument
    from coach.core.warmup import WeakSpot

SHORTEST, LONGEST = 5, 60
MOST_WEAK = 2


def add(commands: Any) -> None:
    parser = commands.add_parser("warmup", help="the warm-up of the day")
    parser.add_argument(
        "--minutes", type=float, default=15, metavar="M", help="5 to 60 (default: 15)"
    )
    parser.add_argument(
        "--instrument", metavar="NAME", help="(default: your own, or the double horn)"
    )
    parser.add_argument(
        "--low", metavar="NOTE", help="your comfortable range, written; it is remembered"
    )
    parser.add_argument("--high", metavar="NOTE", help="likewise")
    parser.add_argument("--day", type=int, metavar="N", help="another day's (default: today's)")
    parser.add_argument("--show", action="store_true", help="only say what it is")
    add_input_options(parser)
    add_screen_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.coursework import shown_or_practised
    from coach.cli.keeping import practice_book
    from coach.core.warmup import plan_warmup
    from coach.files.warmup import load_warmup
    from coach.ports.clock import day_number

    within(args.minutes, "--minutes", SHORTEST, LONGEST)
    instrument = instrument_for(args.instrument)
    comfortable = _comfortable(instrument, args)
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("warmup"))
        course = plan_warmup(
            instrument,
            minutes=args.minutes,
            day_seed=day_number() if args.day is None else args.day,
            comfortable=comfortable,
            weak=_weak_spots(book, instrument),
            limits=load_warmup(),
        )
        shown_or_practised(args, stack, course, instrument, book)
    return 0


def _comfortable(instrument: Instrument, args: argparse.Namespace) -> tuple[int, int]:
    """As given and kept, as kept before, or the middle of the instrument."""
    from coach.core.warmup import check_comfortable, comfortable_of
    from coach.files.player import keep_range, kept_range

    low, high = kept_range(instrument) or comfortable_of(instrument)
    if args.low is None and args.high is None:
        return low, high
    given = (
        low if args.low is None else _sounding(args.low, "--low", instrument),
        high if args.high is None else _sounding(args.high, "--high", instrument),
    )
    try:
        check_comfortable(instrument, given)
    except ValueError as error:
        raise CoachError(str(error), "--low and --high", "give two other notes") from None
    keep_range(instrument, given)
    return given


def _sounding(name: str, option: str, instrument: Instrument) -> int:
    from coach.core.pitch import midi_of_name

    try:
        return midi_of_name(name) + instrument.transposition
    except ValueError:
        raise CoachError(f"{option} {name} is no note", "", "write it as G4 or Bb3") from None


def _weak_spots(book: Any, instrument: Instrument) -> Sequence[WeakSpot]:
    """Drills for the strongest findings in the takes of the last drills on this instrument."""
    from coach.cli.lately import weak_spots
    from coach.core.warmup import WeakSpot

    return [WeakSpot(drill) for drill in weak_spots(book, instrument, MOST_WEAK)]
