"""`coach fingering`: the best fingerings of a passage, and why."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.carried import MOST_PLANS
from coach.cli.chosen import add_chosen_options, chosen, write_result
from coach.cli.saying import print
from coach.cli.slides import add_slide_options, changed
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage

# From here on a finger move is known rather than assumed.
KNOWN_SHARE = 0.5


def add(commands: Any) -> None:
    parser = commands.add_parser("fingering", help="the best fingerings of a passage, and why")
    add_chosen_options(parser)
    parser.add_argument(
        "--alternatives", type=int, default=2, metavar="K", help="how many plans (default 2)"
    )
    parser.add_argument("--fixed", type=Path, metavar="JSON", help="cost these fingerings instead")
    parser.add_argument("--known", type=Path, metavar="JSON", help="what the fingers know already")
    add_slide_options(parser)
    parser.add_argument("--stopped", action="store_true", help="the hand stops the horn")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the plans here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.fingering.ask import NoFingeringError

    drill, instrument, passage, tempo_bpm = chosen(args)
    passage = replace(passage, title=": ".join(filter(None, (drill.title, passage.title))))
    try:
        result = _planned(args, passage, tempo_bpm, instrument)
    except NoFingeringError as error:
        raise _not_playable(error, passage, instrument, args.drill) from None
    if args.json is not None:
        write_result(args.json, result.to_dict())
    else:
        from coach.screen.fingering import show_plans

        show_plans(result, args.drill)
        _tell_own(result.problem.weights)
    return 0


def _tell_own(weights: Any) -> None:
    """How much of what the fingers cost is the player's own."""
    shares = [share for _, share in weights.measured.values()]
    known = sum(share >= KNOWN_SHARE for share in shares)
    if shares:
        print(
            f"Of {len(shares)} finger moves your own takes tell something, of {known} most of"
            " what they cost; the rest are assumptions."
        )


def _planned(
    args: argparse.Namespace, passage: Passage, tempo_bpm: float, instrument: Instrument
) -> Any:
    from coach.cli.own import own_weights
    from coach.core.fingering.ask import fixed_plan, problem_of
    from coach.core.fingering.planner import plans
    from coach.core.fingering.problem import FingeringPlan
    from coach.core.fingering.told import Told
    from coach.files.fingering import read_fingerings

    if not 1 <= args.alternatives <= MOST_PLANS:
        what = f"--alternatives {args.alternatives} is no number of plans"
        raise CoachError(what, "", f"give 1 to {MOST_PLANS}")
    count = len(passage.notes)
    known = read_fingerings(args.known, count) if args.known else None
    instrument = changed(instrument, args)
    problem = problem_of(
        passage,
        tempo_bpm,
        instrument,
        own_weights(instrument),
        known=known,
        stopped=args.stopped,
    )
    found: tuple[FingeringPlan, ...]
    if args.fixed:
        asked = read_fingerings(args.fixed, count)
        found = (fixed_plan(problem, instrument, asked, stopped=args.stopped),)
    else:
        found = plans(problem, args.alternatives)
    return Told(passage, tempo_bpm, instrument, problem, found)


def _not_playable(error: Any, passage: Passage, instrument: Instrument, where: str) -> CoachError:
    from coach.core.pitch import name_of_midi

    name = name_of_midi(error.pitch - instrument.transposition, passage.fifths)
    place = f"{where}, note {error.index + 1}"
    if error.asked is None:
        return CoachError(
            f"written {name} can't be played on the {instrument.title}", place, "choose another"
        )
    hint = f"choose from {', '.join(error.allowed)}"
    return CoachError(f"{error.asked} doesn't give written {name}", place, hint)
