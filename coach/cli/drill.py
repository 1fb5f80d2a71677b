"""`coach drill`: practise a drill by microphone, MIDI, or from a recording."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from coach.cli.carried import add_carried_options, carried
from coach.cli.options import add_device_options, add_drill_options, changed_drill
from coach.core.timeline import Plan
from coach.errors import CoachError


def add(commands: Any) -> None:
    parser = commands.add_parser("drill", help="practise a drill")
    parser.add_argument("drill", metavar="NAME_OR_FILE", help="see `coach drills`")
    parser.add_argument("--instrument", metavar="NAME", help="else the drill's own")
    parser.add_argument(
        "--input", default="mic", metavar="WHAT", help="mic (default), midi, or a recording"
    )
    add_device_options(parser)
    add_drill_options(parser)
    add_carried_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.book.practice import PracticeBook
    from coach.cli.practice import checked_takes, practise
    from coach.files.configs import load_instrument, load_keys, own_folder
    from coach.files.drillfile import load_drill
    from coach.ports.pedal import Pedal

    checked_takes(args)
    if args.instrument:
        load_instrument(args.instrument)
    drill, instrument = load_drill(args.drill, instrument=args.instrument)
    drill = carried(changed_drill(drill, args), instrument, args)
    pedal = Pedal(load_keys()["pedal"])
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(PracticeBook(own_folder() / "practice.sqlite"))
        port, make_ear, controls = _open(args, pedal, stack)
        practise(args, drill, instrument, port, make_ear, book, controls)
    return 0


def _open(
    args: argparse.Namespace, pedal: Any, stack: contextlib.ExitStack
) -> tuple[Any, Callable[[Plan], Any], Any]:
    """The port that was asked for, open; the ear that fits it; and its pedal, if any."""
    from coach.cli import opening

    if args.input == "mic":
        port, controls = opening.microphone(args, pedal, stack)
        return port, opening.sound_ear, controls
    if args.input == "midi":
        port, controls = opening.midi(args, pedal, stack)
        return port, opening.midi_ear, controls
    path = Path(args.input)
    if not path.exists():
        raise CoachError(
            f"--input {args.input} is neither mic nor midi nor a file",
            "",
            "give the path of a recording",
        )
    return opening.recording(path), opening.sound_ear, None
