"""Opening what a session listens to: microphone, MIDI port or recording; and the fitting ear."""

from __future__ import annotations

import argparse
import contextlib
import importlib
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from coach.cli.practice import OpenInput
from coach.cli.saying import print
from coach.core.timeline import Plan
from coach.errors import CoachError

UNKNOWN_DELAY = (
    "How late the sound of these devices comes is not known yet, and notes may be called late for"
    " it: coach check measures it, once."
)
# What is put around the port of the sound card.
Around = Callable[[Any], Any]


def as_it_is(port: Any) -> Any:
    """Nothing around it."""
    return port


def settings() -> Any:
    """configs/sound.toml, checked."""
    from coach.files.configs import load_sound
    from coach.ports.settings import SoundSettings

    return SoundSettings.from_table(load_sound())


def opened(
    args: argparse.Namespace, stack: contextlib.ExitStack, around: Around = as_it_is
) -> OpenInput:
    """The input that was asked for: mic, midi, player (a simulated one), or a recording.  What
    sounds goes out through `around` the port of the sound card."""
    return kept(args, _opened(args, stack, around))


def kept(args: argparse.Namespace, found: OpenInput) -> OpenInput:
    """The same, its sound kept take by take, unless the player does not want that."""
    from coach.files.bookconfig import load_sound_keeping
    from coach.ports.recorded import RecordedPort

    if args.no_sound or not load_sound_keeping().keep:
        return found
    port = RecordedPort(found.port)
    return replace(found, port=port, taken=port.taken)


def _opened(args: argparse.Namespace, stack: contextlib.ExitStack, around: Around) -> OpenInput:
    from coach.files.configs import load_keys
    from coach.ports.pedal import Pedal

    if args.input != "midi":
        ready("coach.hear.follow.ear")
    if args.input == "player":
        return player(args)
    if args.input in ("mic", "midi"):
        pedal = Pedal(load_keys()["pedal"])
        opener, ear = (microphone, sound_ear) if args.input == "mic" else (midi, midi_ear)
        port, controls = opener(args, pedal, stack, around)
        return OpenInput(port, ear, controls)
    path = Path(args.input)
    if not path.exists():
        what = f"--input {args.input} is neither mic nor midi nor player nor a file"
        raise CoachError(what, "", "give the path of a recording")
    return OpenInput(recording(path), sound_ear)


def ready(*modules: str) -> None:
    """Import what the ears need before anything runs: in a take, its first clicks would be late."""
    for module in modules:
        importlib.import_module(module)


def player(args: argparse.Namespace) -> OpenInput:
    """A simulated player, through the same ear as the microphone."""
    from coach.ports.player.port import PlayerPort
    from coach.ports.player.skill import Skill

    port = PlayerPort(
        skill=Skill(), seed=1 if args.seed is None else args.seed, realtime=not args.fast
    )
    return OpenInput(port, sound_ear)


def microphone(
    args: argparse.Namespace, pedal: Any, stack: contextlib.ExitStack, around: Around = as_it_is
) -> Any:
    """(port, controls): microphone and click on one stream; a MIDI pedal beside it if asked for."""
    from coach.files.calibration import stored_round_trip
    from coach.ports.base import open_sound

    sound = settings()
    with or_else("without one: --input midi, or a recording"):
        trip = stored_round_trip(*device_pair(args))
    base = open_sound(sound, args.device, args.output_device)
    port = stack.enter_context(contextlib.closing(sending(args, sound, around(base))))
    port.open()
    tell_notice(base)
    if trip is None:
        print(f"coach: {UNKNOWN_DELAY}", file=sys.stderr)
    base.round_trip_frames = round(trip.seconds * base.rate) if trip else 0
    return port, pedal_beside(args, sound, pedal, stack)


def midi(
    args: argparse.Namespace, pedal: Any, stack: contextlib.ExitStack, around: Around = as_it_is
) -> Any:
    """(port, controls): a MIDI instrument; the click from the sound card unless `--silent`."""
    from coach.ports.base import open_sound
    from coach.ports.clock import ClockPort
    from coach.ports.midi import MidiInput, MidiNotes, MidiPort

    sound = settings()
    card = None if args.silent else open_sound(sound, None, args.output_device, listens=False)
    base = sending(args, sound, around(card) if card else ClockPort(sound.lead_s))
    source = MidiInput(args.device, sound.midi_api)
    port = MidiPort(base, MidiNotes(base, source, pedal.take))
    stack.enter_context(port)
    if card:
        tell_notice(card)
    return port, pedal


@contextlib.contextmanager
def or_else(instead: str) -> Iterator[None]:
    """Where there is no microphone, its error says what would do instead."""
    from coach.ports.devices import NoInputError

    try:
        yield
    except NoInputError as error:
        raise error.without(instead) from None


def tell_notice(card: Any) -> None:
    """What is not as it was asked for, said before anything plays."""
    if card.notice:
        print(f"coach: {card.notice}", file=sys.stderr)


def recording(path: Path) -> Any:
    """A sound file in place of the microphone, from its first sample."""
    from coach.files.audio import read_audio
    from coach.ports.replay import ReplayPort

    samples, rate = read_audio(path)
    return ReplayPort(samples, rate)


def sound_ear(plan: Plan, heard: Callable[[int, Any], None] | None = None) -> Any:
    """The ear that follows the plan's notes, the plan's clicks taken out of the sound; `heard` as
    for FollowEar."""
    from coach.hear.follow.ear import FollowEar

    return FollowEar(
        plan.dues,
        plan.rate,
        clicks=plan.clicks,
        learn_until_frame=plan.downbeat_frame,
        heard=heard,
    )


def midi_ear(plan: Plan, heard: Callable[[int, Any], None] | None = None) -> Any:
    """The ear for MIDI, which has no sound to hand on."""
    from coach.hear.midi_notes import MidiEar

    return MidiEar()


def device_pair(args: argparse.Namespace) -> tuple[str, str]:
    """The full names of the input and the output device, as calibrations are kept by."""
    from coach.ports.devices import find_pair

    source, sink = find_pair(args.device, args.output_device)
    return f"{source.host}: {source.name}", f"{sink.host}: {sink.name}"


def sending(args: argparse.Namespace, sound: Any, port: Any) -> Any:
    """The port, sending click notes and clock by MIDI as well if asked to."""
    if not (args.midi_click or args.midi_clock):
        return port
    from coach.ports.midi_out import MidiOutPort

    return MidiOutPort(
        port, args.midi_out, sound.midi_api, clicks=args.midi_click, clock=args.midi_clock
    )


class _PedalBeside:
    """A MIDI input of its own for the pedal, polled with the keys."""

    def __init__(self, source: Any, pedal: Any) -> None:
        self._source, self._pedal = source, pedal

    def poll(self) -> list[str]:
        for _, message in self._source.poll():
            self._pedal.take(message)
        return list(self._pedal.poll())


def pedal_beside(
    args: argparse.Namespace, sound: Any, pedal: Any, stack: contextlib.ExitStack
) -> Any:
    """A source of the pedal's commands; None if none was asked for."""
    if args.pedal is None:
        return None
    from coach.ports.midi import MidiInput

    source = MidiInput(args.pedal, sound.midi_api)
    source.open()
    stack.callback(source.close)
    return _PedalBeside(source, pedal)
