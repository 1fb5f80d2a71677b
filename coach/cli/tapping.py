"""Tapping the beats of a recording while it sounds: any key, or the pedal, from the first beat of
the bars asked for on, lead-in and all."""

from __future__ import annotations

import argparse
import contextlib
import string
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from coach.cli.saying import print
from coach.core.score.line import PlayedBar
from coach.core.tutti.bars import FEWEST_TAPS, Positions, tapped
from coach.core.tutti.place import beats_to_tap
from coach.errors import CoachError

# What sounds is as long as the bars at the marked tempo, played so much slower, and so much more.
SLOWER, MORE_S = 3.0, 30.0
# Nobody taps any more.
SILENT_S = 8.0


def taps_of(
    args: argparse.Namespace, recording: Path, bars: Sequence[PlayedBar], bpm: float
) -> tuple[list[int], Positions]:
    """(taps in frames of the file, the places of these bars, their own beats).

    CoachError where nobody can tap, or the taps don't make places.
    """
    from coach.cli.tape import loudness_gain, resampled
    from coach.files.audio import read_audio
    from coach.ports.clock import now_s

    start_s = _seconds(args.tap)
    beats = beats_to_tap(bars)
    length_s = float(beats[-1] - beats[0]) * 60 / bpm * SLOWER + MORE_S
    _, rate = read_audio(recording, 0, 1)
    first = round(start_s * rate)
    samples, rate = read_audio(recording, first, first + round(length_s * rate))
    with contextlib.ExitStack() as stack:
        port, controls = _opened(args, stack)
        sound = resampled(samples, rate, port.rate) if rate != port.rate else samples
        sound = loudness_gain(sound, port.rate) * sound
        _say(f"Tap every beat from the first of bar {bars[0].number} on: any key, or the pedal.")
        _say("Escape when you are done.")
        with _counting(args.plain, len(beats)) as told:
            taps = heard_taps(port, controls, sound, len(beats), told, now_s)
    frames = [first + round(tap * rate / port.rate) for tap in taps]
    return frames, tapped(frames, beats, rate)


def heard_taps(
    port: Any,
    controls: Any,
    sound: Any,
    count: int,
    told: Callable[[int], None],
    now: Callable[[], float],
) -> list[int]:
    """Sound it (float32 (n,) at the rate of the port) and give the frames of it at which any
    command came; "quit" ends it, and so do `count` taps, its end, and silence after some taps."""
    from coach.ports.click import SILENCE, Placed

    start = port.earliest_frame()
    port.play(Placed([(start, sound)]))
    taps: list[int] = []
    at = 0
    try:
        while len(taps) < count and at < len(sound) and not _done(taps, at, port.rate):
            port.read()
            at = round(port.frame_at(now())) - start
            for command in controls.poll():
                if command == "quit":
                    return taps
                if 0 <= at < len(sound) and (not taps or at > taps[-1]):
                    taps.append(at)
                    told(len(taps))
    finally:
        port.play(SILENCE)
    return taps


def _done(taps: Sequence[int], at: int, rate: int) -> bool:
    return len(taps) >= FEWEST_TAPS and at - taps[-1] > SILENT_S * rate


def _seconds(text: str) -> float:
    """M:SS, or seconds."""
    minutes, colon, seconds = text.rpartition(":")
    try:
        made = (int(minutes) if colon else 0) * 60 + float(seconds)
    except ValueError:
        made = -1.0
    if not 0 <= made <= 2 * 3600:
        raise CoachError(f"--tap {text} is no time", "", "write minutes:seconds, such as 1:05")
    return made


def _opened(args: argparse.Namespace, stack: contextlib.ExitStack) -> tuple[Any, Any]:
    """(port, controls): the sound card, and whatever can be tapped on."""
    from coach.cli.opening import pedal_beside, settings
    from coach.files.configs import load_keys
    from coach.ports.base import open_sound
    from coach.ports.keys import Keys, Together
    from coach.ports.pedal import Pedal

    sound = settings()
    name = args.device or "" if args.input == "midi" and args.pedal is None else args.pedal
    pedal = pedal_beside(argparse.Namespace(pedal=name), sound, Pedal(load_keys()["pedal"]), stack)
    if pedal is None and not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise CoachError("nobody can tap: there is no keyboard here", "", "name a --pedal")
    port = stack.enter_context(
        contextlib.closing(open_sound(sound, None, args.output_device, listens=False))
    )
    port.open()
    keys = stack.enter_context(Keys(any_key()))
    return port, Together(keys, pedal) if pedal else keys


def any_key() -> dict[str, list[str]]:
    """A table of keys in which every one but Escape gives the same command."""
    characters = string.ascii_lowercase + string.digits + string.punctuation
    named = ("space", "enter", "tab", "backspace", "up", "down", "left", "right")
    return {"go": [*characters, *named], "quit": ["escape"]}


@contextlib.contextmanager
def _counting(plain: bool, count: int) -> Iterator[Callable[[int], None]]:
    """What is called with the number of taps so far."""
    lines = plain or not sys.stderr.isatty()

    def told(taps: int) -> None:
        if not lines:
            print(f"\r{taps} of {count}", end="", file=sys.stderr, flush=True)
        elif taps % 8 == 1:
            _say(f"{taps} of {count}")

    yield told
    if not lines:
        print(file=sys.stderr, flush=True)


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)
