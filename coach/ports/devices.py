"""What sound and MIDI devices there are, and the one that a name or a number means."""

from __future__ import annotations

import os
import re
import sys
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from coach.errors import CoachError, DeviceError, not_installed
from coach.ports.midilib import NOT_STARTED, midi_library
from coach.ports.quiet import quiet_libraries


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """`number` is what --device takes beside the name; `host` the system's sound interface, of
    which there may be several with the same cards; `host_input`: what that would choose itself."""

    number: int
    name: str
    host: str
    input_channels: int
    output_channels: int
    rate: int
    default_input: bool = False
    default_output: bool = False
    host_input: bool = False
    host_output: bool = False


# Some systems do not list what is in use.
# For macOS and Windows it comes with sounddevice.
_AGAIN = "install it with: python -m pip install --force-reinstall sounddevice"
PORTAUDIO_HINTS = {
    "linux": "install it, on Debian and Ubuntu with: sudo apt-get install libportaudio2",
    "darwin": _AGAIN,
    "win32": _AGAIN,
}
NONE_HINT = "plug one in, or close the program that uses it"
# A device by name or number, the one that was chosen before, or the system's choice.
Wanted = str | SoundDevice | None


class NoInputError(DeviceError):
    """There is nothing to hear with; who asked for it knows what would do instead."""

    def __init__(self) -> None:
        super().__init__("there is no sound input", "", NONE_HINT)

    def without(self, instead: str) -> DeviceError:
        """The same, with what would do."""
        return DeviceError(self.what, self.where, f"{self.hint}; {instead}")


@dataclass(frozen=True, slots=True)
class MidiDevice:
    number: int
    name: str


@dataclass(frozen=True, slots=True)
class Devices:
    """All of them; the lists of sound or of MIDI are empty, and `troubles` says why, when it does
    not work here."""

    sound_inputs: tuple[SoundDevice, ...] = ()
    sound_outputs: tuple[SoundDevice, ...] = ()
    midi_inputs: tuple[MidiDevice, ...] = ()
    midi_outputs: tuple[MidiDevice, ...] = ()
    troubles: tuple[str, ...] = ()


def list_devices(midi_api: str = "auto") -> Devices:
    """All devices; DeviceError if neither sound nor MIDI works."""
    sound, no_sound = _or_trouble(_sound_devices)
    midi, no_midi = _or_trouble(lambda: [list_midi(way, midi_api) for way in ("input", "output")])
    if no_sound and no_midi:
        raise no_sound
    inputs = tuple(d for d in sound if d.input_channels)
    outputs = tuple(d for d in sound if d.output_channels)
    troubles = tuple(str(one) for one in (no_sound, no_midi) if one)
    midi_inputs, midi_outputs = midi or ((), ())
    return Devices(inputs, outputs, midi_inputs, midi_outputs, troubles)


def _or_trouble(devices: Callable[[], Sequence[Any]]) -> tuple[tuple[Any, ...], DeviceError | None]:
    try:
        return tuple(devices()), None
    except DeviceError as trouble:
        return (), trouble


def find_pair(source: Wanted, output: Wanted) -> tuple[SoundDevice, SoundDevice]:
    """The (input, output) device, as `find_sound` finds them, of one host: PortAudio opens no two
    together.  CoachError for two that have none in common."""
    if source is None and output is not None:
        sink = find_sound(output, "output")
        found = find_sound(source, "input", sink.host)
    else:
        sink = find_sound(output, "output", find_sound(source, "input").host)
        found = find_sound(source, "input", sink.host)
    if found.host != sink.host:
        names = " and ".join(f"{d.name} ({d.host})" for d in (found, sink))
        what = f"{names} do not go together"
        raise CoachError(what, "", "choose two of the same interface: coach devices lists them")
    return found, sink


def find_sound(wanted: Wanted, direction: str, host: str = "") -> SoundDevice:
    """The "input" or "output" device of a name or number; of one from before, the same under the
    number that it has now (DeviceError if it is gone); None means the system's choice.
    NoInputError where there is none to listen with.

    Of several that are named alike, that of `host`, else of the system's own host; and None means
    the choice of `host`, if there is one."""
    found = _sound_devices()
    fitting = [d for d in found if getattr(d, f"{direction}_channels")]
    if isinstance(wanted, SoundDevice):
        return _same(fitting, wanted)
    usual = [d for d in fitting if getattr(d, f"default_{direction}")]
    if wanted is not None:
        hosts = [host, *(d.host for d in usual)]
        return find(_of_one_host(fitting, wanted, hosts), wanted, f"sound {direction}")
    own = [d for d in fitting if d.host == host]
    chosen = [d for d in own if getattr(d, f"host_{direction}")]
    for device in (*(d for d in usual if host in ("", d.host)), *chosen, *own, *usual, *fitting):
        return device
    if direction == "input":
        raise NoInputError
    raise DeviceError(f"there is no sound {direction}", "", NONE_HINT)


def _of_one_host(
    devices: Sequence[SoundDevice], wanted: str, hosts: Sequence[str]
) -> Sequence[SoundDevice]:
    """Those that are meant, of the first of these hosts that has any (Windows lists a card once for
    each of its interfaces); all devices if none is meant."""
    meant = _meant(devices, wanted)
    known = [d.host for d in meant]
    host = next((one for one in (*hosts, *known) if one in known), "")
    return [d for d in meant if d.host == host] or devices


def _same(devices: Sequence[SoundDevice], before: SoundDevice) -> SoundDevice:
    fitting = [d for d in devices if (d.host, _bare(d.name)) == (before.host, _bare(before.name))]
    if not fitting:
        raise DeviceError("it is not there", before.name, "plug it in")
    return next((d for d in fitting if d.number == before.number), fitting[0])


def _bare(name: str) -> str:
    """Without the place that ALSA gives a card, which may be another one the next time."""
    return re.sub(r" *\(hw:\d+,\d+\)$", "", name)


Named = TypeVar("Named", SoundDevice, MidiDevice)


def find(devices: Sequence[Named], wanted: str, what: str) -> Named:
    """By number, by the whole name, or by any part of it that fits one only.

    CoachError lists the candidates when none or several fit; DeviceError says that there is none.
    """
    fitting = _meant(devices, wanted)
    if len(fitting) == 1:
        return fitting[0]
    if not devices:
        raise DeviceError(f"there is no {what}", "", NONE_HINT)
    names = "; ".join(_named(d) for d in (fitting or devices))
    if fitting:
        raise CoachError(f"{wanted!r} fits several {what}s", "", f"choose by number: {names}")
    raise CoachError(f"there is no {what} {wanted!r}", "", f"there are: {names}")


def _meant(devices: Sequence[Named], wanted: str) -> list[Named]:
    """Those of that number, of that whole name, or with that in their names, as they are listed."""
    if wanted.strip().isdecimal():
        return [d for d in devices if d.number == int(wanted)]
    word = _plain(wanted)
    whole = [d for d in devices if word in (_plain(d.name), _plain(_listed(d)))]
    return whole or [d for d in devices if word in _plain(_listed(d))]


def _plain(name: str) -> str:
    """Systems differ in whether a letter and its mark are one."""
    return unicodedata.normalize("NFC", name).casefold().strip()


def _named(device: SoundDevice | MidiDevice) -> str:
    return f"{device.number} {_listed(device)}"


def _listed(device: SoundDevice | MidiDevice) -> str:
    """As `coach devices` lists it."""
    return f"{device.name} ({device.host})" if isinstance(device, SoundDevice) else device.name


def import_sounddevice() -> Any:
    """The sounddevice module; importing it starts PortAudio, so it is done late.  DeviceError if
    either is missing."""
    try:
        import sounddevice
    except ImportError:
        missing = not_installed("sound needs", "sounddevice", DeviceError, brought_by="rtmixer")
        raise missing from None
    except OSError as error:
        hint = PORTAUDIO_HINTS.get(sys.platform, "install it")
        raise DeviceError("the PortAudio library is missing", "", hint) from error
    return sounddevice


def _sound_devices() -> list[SoundDevice]:
    sounddevice = import_sounddevice()
    hosts = sounddevice.query_hostapis()
    first_in, first_out = sounddevice.default.device
    return [
        SoundDevice(
            number,
            d["name"],
            hosts[d["hostapi"]]["name"],
            d["max_input_channels"],
            d["max_output_channels"],
            int(d["default_samplerate"]),
            default_input=number == first_in,
            default_output=number == first_out,
            host_input=number == hosts[d["hostapi"]].get("default_input_device"),
            host_output=number == hosts[d["hostapi"]].get("default_output_device"),
        )
        for number, d in enumerate(sounddevice.query_devices())
    ]


def list_midi(direction: str, midi_api: str = "auto") -> tuple[MidiDevice, ...]:
    """The MIDI "input" or "output" ports, numbered from 0."""
    client = midi_client(direction, midi_api)
    try:
        return tuple(MidiDevice(k, name) for k, name in enumerate(client.get_ports()))
    finally:
        client.delete()


def midi_client(direction: str, midi_api: str = "auto") -> Any:
    """An rtmidi client with no port open; the variable COACH_MIDI_API overrules `midi_api`."""
    rtmidi = midi_library()
    apis = {
        "auto": rtmidi.API_UNSPECIFIED,
        "alsa": rtmidi.API_LINUX_ALSA,
        "jack": rtmidi.API_UNIX_JACK,
        "core": rtmidi.API_MACOSX_CORE,
        "windows": rtmidi.API_WINDOWS_MM,
    }
    name = os.environ.get("COACH_MIDI_API", midi_api)
    if name not in apis:
        raise DeviceError(f"unknown MIDI interface {name!r}", "", f"use {', '.join(apis)}")
    make = rtmidi.MidiIn if direction == "input" else rtmidi.MidiOut
    quiet_libraries()
    try:
        return make(apis[name], "coach")
    except (rtmidi.SystemError, rtmidi.RtMidiError) as error:
        what = f"MIDI did not start ({str(error).rstrip('.')})"
        raise DeviceError(what, "", NOT_STARTED) from error
