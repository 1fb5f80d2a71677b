"""In tune with what: equal temperament, or just intervals above a drone; and how steady.

The just ratios are the smallest whole-number ratios of harmonics for each step (5-limit: primes 2,
3 and 5), as acoustics textbooks list them: minor second 16:15, major second 9:8, minor third 6:5,
major third 5:4, fourth 4:3, augmented fourth 45:32, fifth 3:2, minor sixth 8:5, major sixth 5:3,
minor seventh 9:5, major seventh 15:8.  Other choices exist (10:9, 7:4, 16:9); these are ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from coach.core.pitch import A4_HZ, cents_between, hz_of_midi, midi_of_hz

JUST_RATIOS = (
    Fraction(1),
    Fraction(16, 15),
    Fraction(9, 8),
    Fraction(6, 5),
    Fraction(5, 4),
    Fraction(4, 3),
    Fraction(45, 32),
    Fraction(3, 2),
    Fraction(8, 5),
    Fraction(5, 3),
    Fraction(9, 5),
    Fraction(15, 8),
)
SHORTEST_TONE_S, HOLE_S = 1.0, 0.3
START_S, END_S = 0.2, 0.1


def just_cents(semitones: int) -> float:
    """How far the just interval of so many semitones lies from the tempered one, in cents."""
    ratio = JUST_RATIOS[semitones % 12]
    return 1200 * math.log2(ratio) - 100 * (semitones % 12)


@dataclass(frozen=True, slots=True)
class Tuning:
    """What counts as in tune: A4 in Hz; with `just`, intervals above the note `drone` (MIDI)."""

    a4_hz: float = A4_HZ
    drone: int | None = None
    just: bool = False

    def target_hz(self, midi: int) -> float:
        """Where a note should be."""
        off = 0.0
        if self.just and self.drone is not None:
            off = just_cents(midi - self.drone)
        return hz_of_midi(midi + off / 100, self.a4_hz)

    def nearest(self, hz: float) -> tuple[int, float]:
        """The note whose target lies nearest to `hz`, and by how many cents `hz` is above it."""
        middle = round(midi_of_hz(hz, self.a4_hz))
        offs = [(m, cents_between(hz, self.target_hz(m))) for m in range(middle - 1, middle + 2)]
        return min(offs, key=lambda off: abs(off[1]))


@dataclass(frozen=True, slots=True)
class LongTone:
    """A note that was held: its mean distance from the target, how fast it moved (least squares)
    and how far it wavered around that line (standard deviation), without its start and end."""

    midi: int
    length_s: float
    cents: float
    drift_cents_per_s: float
    spread_cents: float


def measure_tone(midi: int, points: list[tuple[float, float]]) -> LongTone | None:
    """A long tone from (time in s, cents) in order of time; None if it was under a second long."""
    if not points or points[-1][0] - points[0][0] < SHORTEST_TONE_S:
        return None
    length = points[-1][0] - points[0][0]
    inner = [p for p in points if points[0][0] + START_S <= p[0] <= points[-1][0] - END_S]
    if len(inner) < 3:
        return None
    mean_s = sum(at for at, _ in inner) / len(inner)
    mean = sum(cents for _, cents in inner) / len(inner)
    across = sum((at - mean_s) ** 2 for at, _ in inner)
    drift = sum((at - mean_s) * (cents - mean) for at, cents in inner) / across
    left = sum((cents - mean - drift * (at - mean_s)) ** 2 for at, cents in inner)
    return LongTone(midi, length, mean, drift, math.sqrt(left / len(inner)))


class ToneFolder:
    """Readings folded into long tones: one ends when another note sounds, or nothing for 0.3 s."""

    def __init__(self) -> None:
        self._midi: int | None = None
        self._points: list[tuple[float, float]] = []

    @property
    def held_s(self) -> float:
        """How long the note has sounded that sounds now."""
        return self._points[-1][0] - self._points[0][0] if self._points else 0.0

    def step(self, at_s: float, reading: tuple[int, float] | None) -> LongTone | None:
        """A reading (note, cents), or None where nothing steady sounds; a tone that ended."""
        ended = None
        silent = reading is None and self._points and at_s - self._points[-1][0] > HOLE_S
        if silent or (reading is not None and reading[0] != self._midi):
            ended = self.finish()
        if reading is not None:
            self._midi = reading[0]
            self._points.append((at_s, reading[1]))
        return ended

    def finish(self) -> LongTone | None:
        """The tone that sounds now, if it was long enough."""
        tone = None if self._midi is None else measure_tone(self._midi, self._points)
        self._midi, self._points = None, []
        return tone


@dataclass(frozen=True, slots=True)
class TunerView:
    """What the tuner's screen shows.  `midi` sounds now (None: nothing steady), `cents` above its
    target; `transposition` is that of the instrument whose written names are shown beside."""

    tuning: Tuning
    midi: int | None = None
    cents: float = 0.0
    held_s: float = 0.0
    last: LongTone | None = None
    transposition: int | None = None
    notice: str = ""
