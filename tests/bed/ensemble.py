"""Recordings of an ensemble whose bars are known: other sounds than the coach's own, a tempo that
comes and goes, players who are not quite together, a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from coach.core.tutti.ensemble import Sounded, Voice
from tests.bed.room import pink, reverberant

Floats = NDArray[np.float64]

RATE = 22_050
TOGETHER_S = 0.008
ROOM_S, ROOM_DB = 1.2, -5.0
NOISE_DB = -45.0


@dataclass(frozen=True, slots=True)
class Rubato:
    """`bpm` quarter notes a minute, up to `share` faster and slower in waves of `wave_beats`; from
    `slowing_from` (beat) on ever slower, down to `slowest` at `end`."""

    bpm: float
    end: float
    share: float = 0.15
    wave_beats: float = 13.0
    phase: float = 0.0
    slowing_from: float = np.inf
    slowest: float = 0.6

    def seconds(self, beats: Sequence[float] | Floats) -> Floats:
        """When each beat is played."""
        grid = np.arange(-1, self.end + 9, 1 / 64)
        pace = self.bpm * (1 + self.share * np.sin(2 * np.pi * grid / self.wave_beats + self.phase))
        over = np.clip((grid - self.slowing_from) / max(1e-9, self.end - self.slowing_from), 0, 1)
        pace *= 1 - (1 - self.slowest) * np.nan_to_num(over)
        at = np.concatenate([[0], np.cumsum(60 / pace[:-1] / 64)])
        return np.interp(np.asarray(beats, float), grid, at - np.interp(0, grid, at))


def recorded(
    voices: Sequence[Voice], tempo: Rubato, seed: int, lead_s: float = 1.0, tail_s: float = 2.0
) -> tuple[NDArray[np.float32], int]:
    """(samples, rate): beat 0 at `lead_s`, noise before and after the music."""
    rng = np.random.default_rng(seed)
    last = max(float(note.end_beats) for voice in voices for note in voice.notes)
    length = round((lead_s + tempo.seconds([last])[0] + tail_s) * RATE)
    out = np.zeros(length)
    for voice in voices:
        _play(rng, out, voice, tempo, lead_s)
    out = reverberant(rng, out, ROOM_S, ROOM_DB)[:length]
    out += pink(rng, length) * np.sqrt(np.mean(out**2)) * 10 ** (NOISE_DB / 20)
    return (0.5 * out / np.abs(out).max()).astype(np.float32), RATE


def _play(
    rng: np.random.Generator, out: Floats, voice: Voice, tempo: Rubato, lead_s: float
) -> None:
    strengths = rng.uniform(0.3, 1, 7) * rng.uniform(0.5, 0.85) ** np.arange(7)
    rise_s, level, tuning = rng.uniform(0.01, 0.05), rng.uniform(0.4, 1), rng.normal(0, 5)
    for note in voice.notes:
        at, end = lead_s + tempo.seconds([float(note.start_beats), float(note.end_beats)])
        at += rng.normal(0, TOGETHER_S)
        tone = _tone(rng, note, max(0.05, end - at), strengths, rise_s, tuning)
        start = max(0, round(at * RATE))
        stop = min(len(out), start + len(tone))
        out[start:stop] += level * tone[: stop - start]


def _tone(
    rng: np.random.Generator,
    note: Sounded,
    length_s: float,
    strengths: Floats,
    rise_s: float,
    cents: float,
) -> Floats:
    t = np.arange(round((length_s + 0.06) * RATE)) / RATE
    hz = 440 * 2 ** ((note.pitch - 69 + cents / 100) / 12)
    angle = 2 * np.pi * hz * t + 0.3 * np.sin(2 * np.pi * 5.5 * t + rng.uniform(0, 6))
    phases = rng.uniform(0, 2 * np.pi, len(strengths))
    partials = [k for k in range(len(strengths)) if hz * (k + 1) < 0.45 * RATE]
    tone = sum((strengths[k] * np.sin((k + 1) * angle + phases[k]) for k in partials), 0 * t)
    shape = np.minimum(1, t / rise_s) * np.clip((length_s + 0.06 - t) / 0.06, 0, 1)
    return (note.velocity / 80) * tone * shape * (0.6 + 0.4 * np.exp(-t / 0.4))


def beats_of(length: Fraction, bar: Fraction) -> tuple[Fraction, ...]:
    """Every bar line from 0 to `length`."""
    return tuple(bar * k for k in range(int(length / bar) + 1))


# Roots and thirds of a plain song of eight bars, two chords a bar; no piece's.
CHORDS = ((48, 4), (55, 4), (57, 3), (52, 3), (53, 4), (48, 4), (53, 4), (55, 4))


def song(seed: int, bars: int = 16) -> tuple[Voice, ...]:
    """Four voices in 4/4 made up by chance over a round of chords: a bass in half notes, two inner
    voices in quarters with rests, a tune with eighths and dotted notes."""
    rng = np.random.default_rng(seed)
    names = ("tune", "second", "third", "bass")
    made: dict[str, list[Sounded]] = {name: [] for name in names}
    for half in range(2 * bars):
        root, third = CHORDS[(half + half // 8) % len(CHORDS)]
        chord, start = (root + 12, root + 12 + third, root + 19), Fraction(2 * half)
        made["bass"].append(Sounded(start, Fraction(2), root - 12))
        for name, above in (("second", 12), ("third", 0)):
            for beat in range(2):
                if rng.random() < 0.8:
                    pitch = int(rng.choice(chord)) + above
                    made[name].append(Sounded(start + beat, Fraction(1), pitch, 70))
        for at, length in TUNES[int(rng.integers(len(TUNES)))]:
            made["tune"].append(Sounded(start + at, length, int(rng.choice(chord)) + 24, 100))
    return tuple(Voice(name, 0, tuple(made[name])) for name in names)


_H, _Q = Fraction(1, 2), Fraction(1)
TUNES = (
    ((Fraction(0), 2 * _Q),),
    ((Fraction(0), _Q), (_Q, _Q)),
    ((Fraction(0), _H), (_H, _H), (_Q, _Q)),
    ((Fraction(0), 3 * _H), (3 * _H, _H)),
)
