"""Measures of one note from its sound: level, rise, and the pitch to the cent.

Level: the highest RMS over 20 ms.  Rise: from the attack to half of the peak amplitude (6 dB under
that level).  Pitch: the lag, several periods long, at which the sound is most like itself, by a
parabola through the correlation's peak; nearest to the pitch the note was heard on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from coach.hear.follow.frames import RATE, Samples
from coach.hear.peak import summit

LEVEL_FRAMES = 320
STEP = 16
SILENCE_DB = -120.0
LONGEST_LAG_S = 0.025
ALIKE = 0.8
MOST_PERIODS, HALF_SEMITONE = 6, 0.45


def level_and_rise(sound: Samples) -> tuple[float, int]:
    """(level in dB re full scale, rise in frames) of sound that begins at the attack."""
    length = min(LEVEL_FRAMES, max(STEP, len(sound)))
    sums = np.concatenate([[0.0], np.cumsum(sound.astype(np.float64) ** 2)])
    starts = np.arange(0, max(1, len(sound) - length), STEP)
    powers = (sums[np.minimum(starts + length, len(sound))] - sums[starts]) / length
    level_db = 10 * float(np.log10(max(powers.max(initial=0.0), 10 ** (SILENCE_DB / 10))))
    return level_db, _rise(sums, powers.max(initial=0.0))


def _rise(sums: np.ndarray, peak: float) -> int:
    """First frame at which 5 ms have a quarter of the peak's power, from their middle."""
    width = 5 * STEP
    if len(sums) <= width:
        return 0
    powers = (sums[width:] - sums[:-width]) / width
    above = np.flatnonzero(powers >= peak / 4)
    return int(above[0]) + width // 2 if len(above) else 0


def steady_pitch(sound: Samples, near: float) -> float | None:
    """Fractional MIDI number within a semitone of `near`; None where nothing is steady enough.

    The lag is found one period away first, then at twice as many periods each time, always within
    a third of a period of where it must be, so that no other multiple can be taken for it.
    """
    period = RATE / (440.0 * 2 ** ((near - 69) / 12))
    found = _lag_near(sound, period, 0.06 * period + 1)
    times = 1
    while found is not None and 2 * times * period <= LONGEST_LAG_S * RATE:
        finer = _lag_near(sound, 2 * found, 0.33 * period)
        if finer is None:
            break
        times, found = 2 * times, finer
    return None if found is None else float(69 + 12 * np.log2(RATE * times / found / 440.0))


def is_rather(sound: Samples, pitch: float, others: Sequence[float]) -> bool:
    """Whether the sound is more like itself at the periods of `pitch` than at those of any of the
    `others` (fractional MIDI numbers), as far as its length can tell."""
    here = _periodic(sound, pitch)
    rivals = [_periodic(sound, other) for other in others]
    return here is not None and all(r is None or here > r for r in rivals)


def _periodic(sound: Samples, pitch: float) -> float | None:
    """The greatest likeness of the sound to itself some periods of about `pitch` before: as many
    as leave half of it to compare."""
    period = RATE / (440.0 * 2 ** ((pitch - 69) / 12))
    times = min(MOST_PERIODS, int(0.5 * len(sound) / period))
    if times < 1:
        return None
    low, high = (times * period * 2 ** (side * HALF_SEMITONE / 12) for side in (-1, 1))
    first, last = int(low), math.ceil(high)
    length = len(sound) - last - 1
    if length < period:
        return None
    part = sound[: length + last].astype(np.float64)
    return float(_likeness(part, length, first).max())


def _lag_near(sound: Samples, lag_frames: float, reach_frames: float) -> float | None:
    """The lag near `lag_frames` at which the sound is most like itself; None if none is clear."""
    low = max(1, math.floor(lag_frames - reach_frames))
    high = math.ceil(lag_frames + reach_frames) + 1
    length = len(sound) - high
    if length < 2 * lag_frames and length < LEVEL_FRAMES:
        return None
    likeness = _likeness(sound[: high - 1 + length].astype(np.float64), length, low)
    top = int(np.argmax(likeness))
    if likeness[top] < ALIKE or top in (0, len(likeness) - 1):
        return None
    return low + top + summit(likeness, top)[0]


def _likeness(sound: np.ndarray, length: int, low: int) -> np.ndarray:
    """How much the first `length` frames are like those one lag later, for each lag from `low`
    on that the sound has room for: 1 for the same."""
    here = sound[:length]
    joint = np.correlate(sound[low:], here)
    sums = np.concatenate([[0.0], np.cumsum(sound * sound)])
    power = sums[length] * (sums[length + low :] - sums[low : len(sums) - length])
    likeness: np.ndarray = joint / (np.sqrt(power) + 1e-12)
    return likeness
