"""What makes a note sound, and the store of notes that are made already.

Notes are made one by one, each from its own start, and mixed where they belong: so a note begins on
its frame however the sound is cut into windows, any window can be rendered at any time, and a voice
can be turned up or down while it plays without making anything again.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Protocol

from coach.ports.click import Samples

# About 25 s (the ring of the sound port and some more) of twenty voices at 48 kHz.
STORE_BYTES = 128 << 20


@dataclass(frozen=True, slots=True)
class NoteKey:
    """All that a note's sound depends on: `program` of General MIDI, `pitch` and `velocity` as in
    MIDI, `length_frames` from its start to where it is let go."""

    program: int
    pitch: int
    velocity: int
    length_frames: int


class Voicing(Protocol):
    """A way of sounding notes."""

    @property
    def rate(self) -> int: ...

    @property
    def tail_frames(self) -> int:
        """How long a note may sound on after it is let go, at most."""
        ...

    def wave(self, key: NoteKey) -> Samples:
        """One note from its first frame to its last sound: mono float32 (n,), n at most
        `length_frames + tail_frames`, near 1 at its peak for a velocity of 127."""
        ...


class Waves:
    """The notes of a voicing, kept up to `store_bytes`, those asked for longest ago dropped first.

    May be asked by several threads.
    """

    def __init__(self, voicing: Voicing, store_bytes: int = STORE_BYTES) -> None:
        self.voicing = voicing
        self._most_bytes, self._kept_bytes = store_bytes, 0
        self._kept: OrderedDict[NoteKey, Samples] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def kept_bytes(self) -> int:
        return self._kept_bytes

    def wave(self, key: NoteKey) -> Samples:
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                found = self._make(key)
            self._kept.move_to_end(key)
            return found

    def _make(self, key: NoteKey) -> Samples:
        made = self.voicing.wave(key)
        made.flags.writeable = False
        self._kept[key] = made
        self._kept_bytes += made.nbytes
        while self._kept_bytes > self._most_bytes and len(self._kept) > 1:
            self._kept_bytes -= self._kept.popitem(last=False)[1].nbytes
        return made


def velocity_gain(velocity: int) -> float:
    """How loud a velocity is, 1 at 127: 40 log10(v/127) dB, as General MIDI Level 2 recommends."""
    return float((velocity / 127) ** 2)
