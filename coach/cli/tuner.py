"""`coach tuner`: how a steady note stands, against equal temperament or over a drone."""

from __future__ import annotations

import argparse
import contextlib
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import within
from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.tuning import LongTone, TunerView, Tuning

LOWEST_A4, HIGHEST_A4 = 390.0, 480.0
LOWEST_DRONE, HIGHEST_DRONE = 28, 84
FAINTEST_DRONE_DB, LOUDEST_DRONE_DB = -60.0, -12.0
SETTLE_S = 0.8
MOST_TOLD = 12
HEARING = (
    "Keep the drone softer than you play, and softer still in headphones: hearing that is lost"
    " does not come back. Rest your lips between long tones."
)


def add(commands: Any) -> None:
    parser = commands.add_parser("tuner", help="cents of a steady note, with or without a drone")
    parser.add_argument("--drone", metavar="NOTE", help="a drone to play to, such as F3 (sounding)")
    parser.add_argument("--just", action="store_true", help="just intervals above the drone")
    parser.add_argument(
        "--drone-level", type=float, default=-30.0, metavar="DB", help="-60 to -12 (default -30)"
    )
    parser.add_argument("--a4", type=float, default=440.0, metavar="HZ", help="default 440")
    parser.add_argument("--instrument", metavar="NAME", help="show its written notes as well")
    parser.add_argument("--input", default="mic", metavar="WHAT", help="mic, or a recording")
    parser.add_argument("--device", metavar="NAME", help="microphone")
    parser.add_argument("--output-device", metavar="NAME", help="where the drone sounds")
    parser.add_argument("--seconds", type=float, metavar="S", help="end after so long")
    parser.add_argument("--plain", action="store_true", help="lines of text, for pipes")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.tuning import TunerView

    tuning = _checked(args)
    view = TunerView(tuning, transposition=_transposition(args))
    if args.drone and args.input == "mic":
        view = replace(view, notice=HEARING)
    with contextlib.ExitStack() as stack:
        listening = _Listening(args, view, stack)
        with contextlib.suppress(KeyboardInterrupt):
            listening.run()
    _sum_up(listening.tones, tuning, args)
    return 0


def _checked(args: argparse.Namespace) -> Tuning:
    """What is in tune; CoachError for an option that can't be."""
    from coach.core.tuning import Tuning

    for name, value, low, high in (
        ("--a4", args.a4, LOWEST_A4, HIGHEST_A4),
        ("--drone-level", args.drone_level, FAINTEST_DRONE_DB, LOUDEST_DRONE_DB),
        ("--seconds", args.seconds, 0.1, 36_000.0),
    ):
        within(value, name, low, high)
    if args.just and not args.drone:
        raise CoachError("--just needs a drone to measure from", "", "add --drone F3")
    if args.input != "mic" and not Path(args.input).exists():
        what = f"--input {args.input} is neither mic nor a file"
        raise CoachError(what, "", "give the path of a recording")
    return Tuning(args.a4, _drone(args.drone), args.just)


def _drone(name: str | None) -> int | None:
    if name is None:
        return None
    from coach.core.pitch import midi_of_name, name_of_midi

    low, high = name_of_midi(LOWEST_DRONE), name_of_midi(HIGHEST_DRONE)
    try:
        midi = midi_of_name(name)
    except ValueError as error:
        raise CoachError(f"--drone: {error}", "", f"use {low} to {high}") from None
    if not LOWEST_DRONE <= midi <= HIGHEST_DRONE:
        raise CoachError(f"--drone {name} is out of range", "", f"use {low} to {high}")
    return midi


def _transposition(args: argparse.Namespace) -> int | None:
    if args.instrument is None:
        return None
    from coach.files.configs import load_instrument

    return load_instrument(args.instrument).transposition


class _Listening:
    """Reads the port, feeds the tuner, draws."""

    def __init__(
        self, args: argparse.Namespace, view: TunerView, stack: contextlib.ExitStack
    ) -> None:
        from coach.core.tuning import ToneFolder
        from coach.core.view import Pictures
        from coach.files.configs import load_keys
        from coach.hear.tuner import Tuner
        from coach.ports.keys import Keys, Together
        from coach.ports.signals import Halts
        from coach.screen.tuner import make_tuner_screen

        self.tones: list[LongTone] = []
        self._view, self._folder = view, ToneFolder()
        self._port = _open(args, stack)
        self._from_frame = 0
        drone_hz = None
        if view.tuning.drone is not None and args.input == "mic":
            drone_hz = view.tuning.target_hz(view.tuning.drone)
            self._from_frame = _start_drone(self._port, drone_hz, args.drone_level)
        self._tuner = Tuner(self._port.rate, drone_hz=drone_hz)
        self._limit_s = args.seconds
        keys = stack.enter_context(Keys(load_keys()["keys"]))
        screen: Any = make_tuner_screen(plain=args.plain, stream=sys.stdout, hint="q quit")
        self._screen = stack.enter_context(screen)
        self._controls = Together(stack.enter_context(Halts(keys, screen)), keys)
        self._pictures = Pictures()

    def run(self) -> None:
        self._draw(0)
        start = None
        while not self._port.ended:
            chunk = self._port.read()
            start = chunk.frame if start is None else start
            self._feed(chunk)
            self._draw(chunk.end_frame)
            over = self._limit_s is not None and (
                chunk.end_frame - start >= self._limit_s * self._port.rate
            )
            if over or "quit" in self._controls.poll():
                break
        self._end_tone(self._folder.finish())
        self._screen.draw(self._view)

    def _feed(self, chunk: Any) -> None:
        skip = min(max(0, self._from_frame - chunk.frame), chunk.length_frames)
        if skip == chunk.length_frames:
            return
        for reading in self._tuner.feed(chunk.frame + skip, chunk.samples[skip:]):
            tuning = self._view.tuning
            heard = None if reading.hz is None else tuning.nearest(reading.hz)
            self._end_tone(self._folder.step(reading.frame / self._port.rate, heard))
            midi, cents = heard or (None, 0.0)
            held_s = self._folder.held_s
            self._view = replace(self._view, midi=midi, cents=cents, held_s=held_s)

    def _end_tone(self, tone: LongTone | None) -> None:
        if tone is not None:
            self.tones.append(tone)
            self._view = replace(self._view, last=tone)
            # Recordings run faster than pictures: no long tone is to be passed over.
            self._screen.draw(self._view)

    def _draw(self, frame: int) -> None:
        if self._pictures.are_due(frame, self._port.rate):
            self._screen.draw(self._view)


def _open(args: argparse.Namespace, stack: contextlib.ExitStack) -> Any:
    from coach.cli import opening

    if args.input != "mic":
        return opening.recording(Path(args.input))
    from coach.ports.base import open_sound

    port = open_sound(opening.settings(), args.device, args.output_device)
    stack.enter_context(contextlib.closing(port))
    with opening.or_else("without one: --input FILE, a recording"):
        return port.open()


def _start_drone(port: Any, hz: float, level_db: float) -> int:
    """Let the drone sound; the frame from which it is steady in the microphone."""
    from coach.ports.drone import FADE_S, DroneTrack

    print("A drone: please do not play for two seconds, it is being listened to.", file=sys.stderr)
    start = port.earliest_frame()
    port.play(DroneTrack(hz, port.rate, level_db, start))
    return int(start + round((FADE_S + SETTLE_S) * port.rate))


def _sum_up(tones: list[LongTone], tuning: Tuning, args: argparse.Namespace) -> None:
    """The latest long tones, where a picture has shown only the last one."""
    from coach.screen.tuner import tone_line

    if not tones:
        print("No note was held for a second.")
        return
    if not args.plain and sys.stdout.isatty():
        for tone in tones[-MOST_TOLD:]:
            print(tone_line(tone, tuning))
