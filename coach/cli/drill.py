"""`coach drill`: practise a drill by microphone, MIDI, or from a recording."""

from __future__ import annotations

import argparse
import contextlib
from typing import TYPE_CHECKING, Any

from coach.cli.carried import add_carried_options, carried
from coach.cli.loading import add_score_options, loaded
from coach.cli.options import add_drill_options, add_input_options, changed_drill
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.core.exercise import Drill
    from coach.core.guide import DrillGuide
    from coach.core.instrument import Instrument


def add(commands: Any) -> None:
    parser = commands.add_parser("drill", help="practise a drill")
    parser.add_argument("drill", metavar="NAME_OR_FILE", help="see `coach drills`; or a score")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the drill's own)")
    add_input_options(parser)
    add_drill_options(parser)
    add_carried_options(parser)
    add_score_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.keeping import Keeper, practice_book
    from coach.cli.opening import opened
    from coach.cli.practice import check_session, practise
    from coach.files.configs import load_instrument

    check_session(args)
    if args.instrument:
        load_instrument(args.instrument)
    drill, instrument = loaded(args, args.drill, args.instrument)
    drill = carried(changed_drill(drill, args), instrument, args)
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("drill"))
        guide = _guide(drill, instrument, book, args)
        source = opened(args, stack)
        practise(args, drill, instrument, source, Keeper(book, instrument, source.taken), guide)
        _keep_ceiling(drill, book)
    return 0


def _keep_ceiling(drill: Drill, book: PracticeBook) -> None:
    """What is thought of the clean tempo now; a book that can't be written has said so already."""
    from coach.core.pace.prior import belief_from

    passage = drill.variants[0]
    earlier = book.earlier((drill.name,), len(passage.notes))
    if earlier:
        belief = belief_from(drill.from_bpm, drill.to_bpm, drill.gate.threshold, earlier)
        with contextlib.suppress(CoachError):
            book.add_ceiling(drill, passage, belief.estimate_bpm, *belief.interval_bpm())


def _guide(
    drill: Drill, instrument: Instrument, book: PracticeBook, args: argparse.Namespace
) -> DrillGuide:
    """Through the drill, from where earlier takes of it say that it goes; else from its start."""
    from coach.core.guide import DrillGuide
    from coach.core.pace import make_pacer

    earlier = []
    if args.from_bpm is None:
        earlier = book.earlier((drill.name,), len(drill.variants[0].notes))
    pacer = make_pacer(drill.from_bpm, drill.to_bpm, drill.gate, earlier)
    return DrillGuide(drill, instrument.transposition, pacer)
