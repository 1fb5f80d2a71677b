"""`coach tutti`: your line inside the ensemble: all other parts play, yours is heard and judged."""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.carried import add_carried_options, carried
from coach.cli.loading import add_score_options, choice_of
from coach.cli.options import add_drill_options, add_input_options, changed_drill, within
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.tutti.ensemble import Ensemble

LEAD_BARS, MOST_LEAD_BARS = 2, 64


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "tutti",
        help="play your line inside the ensemble",
        description="All other parts of the score play; your own line is heard and judged, and the"
        " tempo of all moves on only when it is clean.",
    )
    parser.add_argument("score", metavar="SCORE", help=".musicxml, .mxl, .mid, .abc")
    parser.add_argument("--instrument", metavar="NAME", help="else the part's own")
    group = parser.add_argument_group("the ensemble")
    group.add_argument(
        "--lead", type=int, default=LEAD_BARS, metavar="BARS", help="bars before your entry (2)"
    )
    group.add_argument("--tempo", type=float, metavar="BPM", help="only at this tempo")
    group.add_argument("--own", type=float, metavar="DB", help="sound your line too, so loud")
    group.add_argument("--sound-font", metavar="FILE", help=".sf2 or .sf3; else one that is found")
    group.add_argument("--simple-sound", action="store_true", help="no sound font at all")
    group.add_argument(
        "--ensemble-midi",
        nargs="?",
        const="",
        metavar="NAME",
        help="played by an instrument on this MIDI output (else the only one)",
    )
    group.add_argument(
        "--ensemble-delay", type=float, default=0.0, metavar="MS", help="how late it sounds (0)"
    )
    group.add_argument(
        "--headphones", action="store_true", help="the microphone does not hear the ensemble"
    )
    click = group.add_mutually_exclusive_group()
    click.add_argument("--no-click", action="store_true", help="after the count-in none")
    click.add_argument(
        "--fade-click", action="store_true", help="softer after each take that passes, then none"
    )
    add_input_options(parser)
    add_drill_options(parser)
    add_carried_options(parser)
    add_score_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.keeping import Keeper, practice_book
    from coach.cli.practice import checked_takes, practise
    from coach.cli.stage import opened_stage
    from coach.core.tutti.guide import TuttiGuide

    checked_takes(args)
    drill, instrument, ensemble = _asked(args)
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("tutti"))
        guide = TuttiGuide(
            drill, instrument.transposition, fades=args.fade_click, clicks=not args.no_click
        )
        source = opened_stage(args, stack, ensemble)
        practise(args, drill, instrument, source, Keeper(book, instrument, source.taken), guide)
    return 0


def _asked(args: argparse.Namespace) -> tuple[Drill, Instrument, Ensemble]:
    from coach.cli.own import own_instrument
    from coach.files.configs import load_instrument
    from coach.files.scorefile import is_score
    from coach.files.scoretutti import score_tutti

    within(args.lead, "--lead", 0, MOST_LEAD_BARS)
    within(args.own, "--own", -40, 0)
    within(args.ensemble_delay, "--ensemble-delay", -500, 500)
    if args.tempo is not None:
        if args.from_bpm is not None or args.to_bpm is not None:
            raise CoachError("--tempo is the only tempo", "", "leave --from and --to out")
        args.from_bpm = args.to_bpm = args.tempo
    if args.instrument:
        load_instrument(args.instrument)
    if not is_score(args.score):
        raise CoachError("an ensemble needs a score", args.score, "give .musicxml, .mxl or .mid")
    drill, instrument, ensemble = score_tutti(
        Path(args.score),
        choice_of(args),
        args.lead,
        instrument=args.instrument or own_instrument(),
    )
    drill = carried(changed_drill(drill, args), instrument, args)
    return replace(drill, cautions=(LOUDNESS, *drill.cautions)), instrument, ensemble


LOUDNESS = "Keep the ensemble no louder than you need, in headphones above all."
