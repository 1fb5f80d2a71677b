"""`coach build`: the whole way to a tempo for one passage (or some), over days."""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from coach.cli.loading import add_score_options, loaded
from coach.cli.options import (
    FASTEST_BPM,
    SLOWEST_BPM,
    add_input_options,
    add_screen_options,
    within,
)
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.course import Course
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument


def add(commands: Any) -> None:
    parser = commands.add_parser("build", help="bring a passage up to tempo, over days")
    parser.add_argument("drills", nargs="+", metavar="NAME_OR_FILE", help="see `coach drills`")
    parser.add_argument(
        "--to", dest="to_bpm", type=float, required=True, metavar="BPM", help="the tempo to reach"
    )
    parser.add_argument(
        "--days", type=int, default=5, metavar="N", help="how long to take (default: 5)"
    )
    parser.add_argument(
        "--day", type=int, metavar="D", help="which of them (default: the next one)"
    )
    parser.add_argument(
        "--minutes", type=float, default=22, metavar="M", help="a day (default: 22)"
    )
    parser.add_argument("--instrument", metavar="NAME", help="(default: the drill's own)")
    parser.add_argument("--show", action="store_true", help="only say what there is to do")
    add_score_options(parser)
    add_input_options(parser)
    add_screen_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.coursework import shown_or_practised
    from coach.cli.keeping import practice_book

    drills, instrument = _drills(args)
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("build"))
        course = _course(args, drills, instrument, book)
        shown_or_practised(args, stack, course, instrument, book)
    return 0


def _drills(args: argparse.Namespace) -> tuple[list[Drill], Instrument]:
    """The passages, all for one instrument."""
    within(args.to_bpm, "--to", SLOWEST_BPM, FASTEST_BPM)
    first, instrument = loaded(args, args.drills[0], args.instrument)
    others = [loaded(args, name, instrument.name)[0] for name in args.drills[1:]]
    return [first, *others], instrument


def _course(
    args: argparse.Namespace, drills: list[Drill], instrument: Instrument, book: Any
) -> Course:
    """What there is to do today; takes are kept under the drill's name with BUILD_SUFFIX."""
    from coach.core.building import plan_building
    from coach.core.course import BUILD_SUFFIX
    from coach.files.building import load_building

    day = args.day
    if day is None:
        day = min(args.days, 1 + max(book.days(drill.name + BUILD_SUFFIX) for drill in drills))
    try:
        course = plan_building(
            drills,
            instrument,
            to_bpm=args.to_bpm,
            day=day,
            days=args.days,
            ceiling_bpm=_ceilings(drills, args.to_bpm, book),
            seed=args.seed or 1,
            minutes=args.minutes,
            settings=load_building(),
        )
    except ValueError as error:
        raise CoachError(str(error), "build", "see coach build --help") from None
    named = (replace(part.drill, name=part.drill.name + BUILD_SUFFIX) for part in course.parts)
    parts = tuple(replace(p, drill=d) for p, d in zip(course.parts, named, strict=True))
    return replace(course, parts=parts)


def _ceilings(drills: list[Drill], to_bpm: float, book: Any) -> dict[str, float]:
    """The tempo that goes today, of the passages that were played whole before."""
    from coach.core.course import BUILD_SUFFIX
    from coach.core.pace.prior import belief_from

    found = {}
    for drill in drills:
        notes = len(drill.variants[0].notes)
        earlier = book.earlier((drill.name, drill.name + BUILD_SUFFIX), notes)
        if earlier:
            low = min(drill.from_bpm, to_bpm)
            belief = belief_from(low, max(to_bpm, low), drill.gate.threshold, earlier)
            found[drill.name] = belief.estimate_bpm
    return found
