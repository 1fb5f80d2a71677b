"""Fingerings and syllables planned for a drill, to be shown while it is played."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage
    from coach.core.tonguing import Style

MOST_PLANS = 5


def add_carried_options(parser: argparse.ArgumentParser) -> None:
    """Planned at the drill's goal; what its file says of a note is kept."""
    shown = parser.add_argument_group("above and under the notes (for the goal tempo)")
    shown.add_argument(
        "--fingering",
        nargs="?",
        type=int,
        const=1,
        metavar="PLAN",
        help="show the planned fingerings, of `coach fingering`'s plan 1 or another",
    )
    shown.add_argument("--tonguing", action="store_true", help="show the planned syllables")


def carried(drill: Drill, instrument: Instrument, args: argparse.Namespace) -> Drill:
    """The drill with what the options ask for."""
    if args.fingering is not None and not 1 <= args.fingering <= MOST_PLANS:
        what = f"--fingering {args.fingering} is no plan"
        raise CoachError(what, "", f"give 1 to {MOST_PLANS}")
    variants = drill.variants
    if args.fingering is not None:
        variants = tuple(
            fingered(p, drill.to_bpm, instrument, drill.name, args.fingering) for p in variants
        )
    if args.tonguing:
        variants = tuple(tongued(passage, drill.to_bpm) for passage in variants)
    return replace(drill, variants=variants)


def fingered(
    passage: Passage, tempo_bpm: float, instrument: Instrument, name: str, number: int
) -> Passage:
    """With the fingerings of plan `number`; where there are fewer, of the last."""
    from coach.cli.own import own_weights
    from coach.core.fingering.ask import NoFingeringError, problem_of
    from coach.core.fingering.planner import plans

    try:
        problem = problem_of(passage, tempo_bpm, instrument, own_weights(instrument))
    except NoFingeringError as error:
        what = f"note {error.index + 1} has no fingering on the {instrument.title}"
        raise CoachError(what, name, "leave --fingering out") from None
    chosen = plans(problem, number)[-1].chosen
    pairs = zip(passage.notes, chosen, strict=True)
    notes = tuple(replace(note, fingering=one.fingering) for note, one in pairs)
    return replace(passage, notes=notes)


def tongued(passage: Passage, tempo_bpm: float, style: Style | None = None) -> Passage:
    """With the syllables for that tempo."""
    from coach.core.tonguing import tongue, with_syllables

    return with_syllables(passage, tongue(passage, tempo_bpm, style))
