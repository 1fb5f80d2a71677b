"""Options that change an instrument: slides of a side pulled or pushed, another crook."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.instrument import Instrument


def add_slide_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--crook", metavar="NAME", help="of a natural horn, e.g. Eb")
    parser.add_argument(
        "--tuned", action="append", default=[], metavar="SIDE=NOTE", help="slides, e.g. F=E"
    )


def changed(instrument: Instrument, args: argparse.Namespace) -> Instrument:
    """The instrument as --crook and --tuned make it; CoachError for what it hasn't."""
    from coach.core.fingering.candidates import retuned

    if args.crook is not None:
        instrument = _with_crook(instrument, args.crook)
    return retuned(instrument, dict(_steps(instrument, entry) for entry in args.tuned))


def _with_crook(instrument: Instrument, crook: str) -> Instrument:
    names = [name for name, _ in instrument.crooks]
    if crook in names:
        from coach.core.fingering.candidates import crooked

        return crooked(instrument, crook)
    what = f"the {instrument.title} has no crook {crook}"
    hint = f"choose from {', '.join(names)}" if names else "leave --crook out"
    raise CoachError(what, "--crook", hint)


def _steps(instrument: Instrument, entry: str) -> tuple[str, float]:
    """ "F=E" as side and semitones, at most a tritone: -1."""
    from coach.core.pitch import midi_of_name

    side, _, note = entry.partition("=")
    tube = next((tube for tube in instrument.tubes if tube.side == side), None)
    try:
        goal = midi_of_name(f"{note}4")
    except ValueError:
        tube = None
    if tube is None:
        sides = ", ".join(tube.side for tube in instrument.tubes if tube.side)
        hint = f"the {instrument.title} has {f'the sides {sides}' if sides else 'one tube only'}"
        raise CoachError(f"{entry} is not a side and a note such as F=E", "--tuned", hint)
    steps = (goal - round(tube.fundamental)) % 12
    return side, float(steps - 12 if steps > 6 else steps)
