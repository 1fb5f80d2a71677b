"""How loud a note is against the notes before it, as the note net is told it.

Two levels from the patch of an attack, in scaled decibels (frames.scaled): of the whole sound, and
of what lies on the harmonics of the expected pitch; the second sees a weak note under the echo of a
strong one.  Each is the highest of the stretches that end within the note.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import median

import numpy as np
from numpy.typing import NDArray

from coach.hear.follow.frames import HARMONICS, RATE, Rows
from coach.hear.follow.patch import GRID, LENGTH, LOWEST, STARTS, STEP

RELATIVES = 3
REMEMBERED = 8
# A higher note is expected to sound louder; in scaled decibels a semitone.
SLOPE = 0.35 / 20
SPAN_SHARE = 0.9


@dataclass(frozen=True, slots=True)
class Loudness:
    """The two levels of the last notes heard, the register taken out."""

    past: tuple[tuple[float, float], ...] = ()

    def heard(self, seen: Rows, pitch: float, interval_s: float) -> Loudness:
        """After one more note, given its patch."""
        total, own = _levels(seen, pitch, interval_s)
        return Loudness((*self.past, (total, own))[-REMEMBERED:])

    def against(self, seen: Rows, pitch: float, interval_s: float) -> Rows:
        """How far a note is over the median of those before, in tens of decibels, for both levels,
        and how many of them are known (1: enough); shape (RELATIVES,)."""
        if not self.past:
            return np.zeros(RELATIVES, np.float32)
        levels = _levels(seen, pitch, interval_s)
        usual = [median(column) for column in zip(*self.past, strict=True)]
        away = [2 * (here - there) for here, there in zip(levels, usual, strict=True)]
        known = min(1.0, len(self.past) / 4)
        return np.clip(np.array([*away, known], np.float32), -3, 3)


def _levels(seen: Rows, pitch: float, interval_s: float) -> tuple[float, float]:
    inside = seen[_inside(round(interval_s, 3))]
    own = 10 ** (2 * inside[:, _harmonics()].astype(np.float64))
    lift = SLOPE * (pitch - 60)
    return float(inside[:, -1].max()) - lift, float(0.5 * np.log10(own.sum(axis=1).max())) - lift


@cache
def _inside(interval_s: float) -> list[int]:
    """The stretches after the attack that end within the note; at least the first."""
    span = SPAN_SHARE * interval_s * RATE
    return [k for k, s in enumerate(STARTS) if s >= 0 and s + LENGTH <= max(span, LENGTH)]


@cache
def _harmonics() -> NDArray[np.int64]:
    at = (12 * np.log2(np.arange(1, HARMONICS + 1)) - LOWEST) / STEP
    return np.unique(np.clip(np.round(at), 0, GRID - 1).astype(int))
