"""MIDI in, on the frames of another port.

That port (a sound port for the click, or the clock alone) says what time it is; this one adds the
notes.  python-rtmidi is read directly, since its driver time would be lost on the way otherwise.
From the MIDI 1.0 specification: status 0x8n is note off, 0x9n note on (velocity 0: off), n the
channel.  Notes come up to 20 ms late out of a busy computer, so a chunk ends that much before now.
"""

from __future__ import annotations

import re
import sys
from collections import deque
from collections.abc import Callable, Sequence
from typing import Any, Self

from coach.core.take import Chunk, NoteEvent
from coach.errors import DeviceAwayError, DeviceError
from coach.ports.around import TimedAround, TimedPort
from coach.ports.away import Away
from coach.ports.clock import now_s, wait
from coach.ports.devices import MidiDevice, find, list_midi, midi_client
from coach.ports.leaving import leave_open
from coach.ports.midilib import midi_library

LATE_S = 0.020
LOOK_EVERY_S = 1.0
# In this time JACK sends what it was given: two of its longest usual periods.
JACK_SENDS_S = 0.1
NOTE_OFF, NOTE_ON = 0x80, 0x90
# What a system puts behind a name, which may be another one the next time: ALSA the numbers of
# client and port, Windows that of the device.
_PLACE = re.compile(r" \d+$" if sys.platform == "win32" else r" \d+:\d+$")


class DriverTimes:
    """The time of each message in seconds of `now_s`, from the driver's deltas and our stamps.

    The sum of the deltas runs beside our clock; the offset between them is the smallest seen, since
    our stamp can only be late.  When sum and stamp disagree by more than `LATE_S` (deltas that are
    missing or nonsense) the stamp is taken and the sum tied to it anew.
    """

    def __init__(self) -> None:
        self._sum_s = 0.0
        self._offset_s: float | None = None

    def step(self, delta_s: float, stamp_s: float) -> float:
        if self._offset_s is None:
            self._offset_s = stamp_s
            return stamp_s
        self._sum_s += delta_s
        if not 0.0 <= stamp_s - self._sum_s - self._offset_s <= LATE_S:
            # Begun anew, so that no nonsense is carried along.
            self._sum_s, self._offset_s = 0.0, stamp_s
        return self._sum_s + self._offset_s


class MidiLink:
    """An rtmidi client joined to one device, which may be pulled out and come back.

    No back end tells that; all of them list the devices that are there.  `direction` is "input" or
    "output"; `wanted` a name, a part of one or a number, None the only device there is; `prepare`
    is called with each client before it is joined.
    """

    def __init__(
        self,
        direction: str,
        wanted: str | None,
        midi_api: str,
        prepare: Callable[[Any], object] = bool,
    ) -> None:
        self._direction, self._wanted, self._api = direction, wanted, midi_api
        self._prepare = prepare
        self._away: Away | None = None
        self._next_s = 0.0
        self.client: Any = None
        self.name = "MIDI"

    def open(self) -> None:
        """DeviceError if MIDI is not there, or no or several devices fit."""
        self._join(choose_midi(self._direction, self._wanted, self._api))

    def close(self) -> None:
        if self._away is None or not self._away.busy:
            self._drop()

    def look(self) -> bool:
        """Once a second, whether the device is still there: DeviceAwayError while it is not, True
        when it has just come back."""
        if self._away is not None:
            if not self._away.back():
                raise self._away.error
            self._away = None
            return True
        if now_s() >= self._next_s:
            self._next_s = now_s() + LOOK_EVERY_S
            if not self._is_listed():
                error = DeviceAwayError("it was unplugged", self.name, "plug it in and start again")
                self._away = Away(error, self._again)
                raise error
        return False

    def _join(self, device: MidiDevice) -> None:
        client = midi_client(self._direction, self._api)
        self._prepare(client)
        try:
            client.open_port(device.number)
        except Exception as error:
            client.delete()
            what, hint = f"it could not be opened ({error})", "close other programs that use it"
            raise DeviceError(what, device.name, hint) from error
        self.client, self.name = client, device.name

    def _is_listed(self) -> bool:
        try:
            names = self.client.get_ports()
        except Exception:
            return False
        return _bare(self.name) in map(_bare, names)

    def _again(self) -> None:
        devices = list_midi(self._direction, self._api)
        fitting = [d for d in devices if _bare(d.name) == _bare(self.name)]
        if not fitting:
            raise DeviceError("it is not there", self.name, "plug it in")
        self._drop()
        self._join(fitting[0])

    def _drop(self) -> None:
        client, self.client = self.client, None
        if client is None:
            return
        if self._direction == "input":
            client.cancel_callback()
        if client.get_current_api() == midi_library().API_UNIX_JACK:
            # A server that waited in vain for a client (Ctrl-Z, say) may answer nobody any more,
            # and all of Python stands still until it does.  The end of the process tells it.
            wait(JACK_SENDS_S if self._direction == "output" else 0.0)
            leave_open(client)
        else:
            client.close_port()
            client.delete()


class MidiInput:
    """One open MIDI port; the messages that came, with their times.

    `wanted` is a name, a part of one or a number; None takes the only port there is.
    """

    def __init__(self, wanted: str | None = None, midi_api: str = "auto") -> None:
        self._link = MidiLink("input", wanted, midi_api, self._listen_to)
        self._came: deque[tuple[float, float, Sequence[int]]] = deque()
        self._times = DriverTimes()

    @property
    def name(self) -> str:
        return self._link.name

    def open(self) -> None:
        """DeviceError if MIDI is not there, or no or several ports fit."""
        self._link.open()

    def close(self) -> None:
        self._link.close()

    def look(self) -> None:
        """DeviceAwayError while the instrument is unplugged; its cable back, it is heard again."""
        self._link.look()

    def poll(self) -> list[tuple[float, Sequence[int]]]:
        """(time in seconds of `now_s`, message) of all that came since the last call."""
        came = [self._came.popleft() for _ in range(len(self._came))]
        return [(self._times.step(delta, stamp), message) for stamp, delta, message in came]

    def _listen_to(self, client: Any) -> None:
        client.set_callback(self._keep)

    def _keep(self, event: tuple[Sequence[int], float], _: object) -> None:
        stamp_s = now_s()
        message, delta_s = event
        self._came.append((stamp_s, delta_s, message))


def _bare(name: str) -> str:
    return _PLACE.sub("", name)


def choose_midi(direction: str, wanted: str | None, midi_api: str) -> MidiDevice:
    """The MIDI device meant; DeviceError if none or several fit."""
    devices = list_midi(direction, midi_api)
    if wanted is not None:
        return find(devices, wanted, f"MIDI {direction}")
    if len(devices) == 1:
        return devices[0]
    if not devices:
        hint = "plug the instrument in; coach devices lists what is there"
        raise DeviceError(f"there is no MIDI {direction}", "", hint)
    names = "; ".join(f"{d.number} {d.name}" for d in devices)
    raise DeviceError(f"there are several MIDI {direction}s", "", f"choose with --device: {names}")


class MidiNotes:
    """The notes of one MIDI input on the axis of a port.

    `take` sees every message first, and keeps those for which it returns True (a pedal).
    """

    def __init__(
        self,
        base: TimedPort,
        source: MidiInput,
        take: Callable[[Sequence[int]], bool] | None = None,
    ) -> None:
        self._base, self._source, self._take = base, source, take
        self._notes: list[NoteEvent] = []
        self._read: int | None = None

    def open(self) -> None:
        self._source.open()

    def close(self) -> None:
        self._source.close()

    def upto(self, heard: Chunk) -> Chunk:
        """Frames up to `LATE_S` before the end of what the base port gave, with the notes in them.
        DeviceAwayError while the instrument is not there.

        A gap of its sound is no loss here, unless the click was gone for a second or more.
        """
        self._source.look()
        until = heard.end_frame - round(LATE_S * self._base.rate)
        start = until if self._read is None else self._read
        self._collect()
        end = max(start, until)
        notes = tuple(sorted((n for n in self._notes if n.frame < end), key=lambda n: n.frame))
        self._notes = [n for n in self._notes if n.frame >= end]
        self._read = end
        gaps = tuple(gap for gap in heard.gaps if gap.length_frames >= self._base.rate)
        return Chunk(start, end - start, None, notes, gaps)

    def _collect(self) -> None:
        for at_s, message in self._source.poll():
            if self._take is not None and self._take(message):
                continue
            note = note_event(message, round(self._base.frame_at(at_s)))
            if note is not None:
                self._notes.append(note)


class MidiPort(TimedAround):
    """A `roles.Port`: the base port's frames and clicks, with notes and no samples."""

    def __init__(self, base: TimedPort, notes: MidiNotes) -> None:
        super().__init__(base)
        self._notes = notes

    def open(self) -> Self:
        self._notes.open()
        return super().open()

    def close(self) -> None:
        self._notes.close()
        super().close()

    def read(self) -> Chunk:
        return self._notes.upto(self._base.read())


def note_event(message: Sequence[int], frame: int) -> NoteEvent | None:
    """A note on or off; None for any other message."""
    if len(message) != 3 or message[0] & 0xF0 not in (NOTE_OFF, NOTE_ON):
        return None
    status, pitch, velocity = message
    return NoteEvent(frame, pitch, velocity, on=status & 0xF0 == NOTE_ON and velocity > 0)
