"""What the bytes of a MIDI file say, before it is made into notation."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

# The tempo where a file sets none (Standard MIDI Files 1.0), in microseconds a quarter note.
DEFAULT_QUARTER_US = 500_000
# Channel 10, counted from 0: percussion in General MIDI.
DRUMS = 9


@dataclass(frozen=True, slots=True)
class Division:
    """What a tick is: a share of a quarter note, or (`real_time`) of a second.

    In real time a quarter note is taken to last half a second, so `ticks_a_quarter` is half of the
    ticks a second.
    """

    ticks_a_quarter: Fraction
    real_time: bool = False


@dataclass(frozen=True, slots=True)
class SongNote:
    """One note as it is played, from tick `on` to tick `off`; channels count from 0."""

    channel: int
    pitch: int
    on: int
    off: int


@dataclass(frozen=True, slots=True)
class Track:
    """One track: everything in ticks from its start.

    `sounds` in order of their beginning; `programs` holds the first program of each channel;
    `tempos` are (tick, microseconds a quarter), `meters` (tick, count, unit), `keys` (tick, sharps
    or minus flats), `texts` and `lyrics` (tick, text).
    """

    number: int
    name: str
    instrument: str
    sounds: tuple[SongNote, ...]
    programs: dict[int, int]
    tempos: tuple[tuple[int, int], ...]
    meters: tuple[tuple[int, int, int], ...]
    keys: tuple[tuple[int, int], ...]
    texts: tuple[tuple[int, str], ...]
    lyrics: tuple[tuple[int, str], ...]
    end: int

    @property
    def channels(self) -> tuple[int, ...]:
        """Those that have notes."""
        return tuple(sorted({sound.channel for sound in self.sounds}))


@dataclass(frozen=True, slots=True)
class Song:
    """A whole file; `kind` is its format: 0 one track, 1 tracks at once, 2 one after another."""

    kind: int
    division: Division
    tracks: tuple[Track, ...]
    remarks: tuple[str, ...] = ()
