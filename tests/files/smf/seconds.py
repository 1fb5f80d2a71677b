"""The notes that our reader finds in a MIDI file in exact seconds, for checks against others."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coach.files.smf.reading import song_of
from coach.files.smf.song import DEFAULT_QUARTER_US, Division, Song, Track

_US = 1_000_000


@dataclass(frozen=True, slots=True)
class TimedNote:
    """One note, on and off in seconds from the start of its sequence."""

    pitch: int
    on_seconds: Fraction
    off_seconds: Fraction


@dataclass(frozen=True, slots=True)
class TimedVoice:
    """The notes of one channel (from 0) of one track (from 1), in the order of their beginning."""

    track: int
    channel: int
    notes: tuple[TimedNote, ...]


class TempoMap:
    """Ticks to seconds.

    Tempos of all tracks count, as (tick, microseconds a quarter); of several at one tick the last
    one does.  With a time code they say nothing (Standard MIDI Files 1.0).
    """

    def __init__(self, division: Division, tempos: Iterable[tuple[int, int]] = ()) -> None:
        self._division = division
        at = {0: DEFAULT_QUARTER_US}
        if not division.real_time:
            at |= dict(sorted(tempos, key=lambda tempo: tempo[0]))
        self._ticks: Sequence[int] = list(at)
        self._quarter_us: Sequence[int] = list(at.values())
        # Microseconds times ticks a quarter: whole numbers, so nothing is ever rounded.
        self._sums = [0]
        for place, tick in enumerate(self._ticks[1:]):
            length = tick - self._ticks[place]
            self._sums.append(self._sums[-1] + length * self._quarter_us[place])

    def seconds(self, tick: int) -> Fraction:
        place = bisect_right(self._ticks, tick) - 1
        whole = self._sums[place] + (tick - self._ticks[place]) * self._quarter_us[place]
        return Fraction(whole) / (self._division.ticks_a_quarter * _US)


def timed_notes(data: bytes, where: str) -> tuple[TimedVoice, ...]:
    """All notes by track and channel; FileError as `song_of`.

    In format 2 every track is a sequence of its own with its own tempos, from 0 seconds.
    """
    song = song_of(data, where)
    every = [tempo for track in song.tracks for tempo in track.tempos]
    whole = TempoMap(song.division, every)
    return tuple(
        voice for track in song.tracks for voice in _voices(track, _map_for(song, track, whole))
    )


def _map_for(song: Song, track: Track, whole: TempoMap) -> TempoMap:
    return TempoMap(song.division, track.tempos) if song.kind == 2 else whole


def _voices(track: Track, tempo_map: TempoMap) -> Iterable[TimedVoice]:
    voices: dict[int, list[TimedNote]] = {channel: [] for channel in track.channels}
    for sound in track.sounds:
        on, off = tempo_map.seconds(sound.on), tempo_map.seconds(sound.off)
        voices[sound.channel].append(TimedNote(sound.pitch, on, off))
    return (TimedVoice(track.number, channel, tuple(n)) for channel, n in voices.items())
