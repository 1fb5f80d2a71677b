"""How loud the input is: the loud parts, noise, overdrive, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.hear.whole import whole

FRAME_S = 0.02
FLOOR_DB = -120.0
FULL = 0.999
# So many samples as loud as that in one chunk are no accident.
CLIP_LEVEL, CLIPPED_SAMPLES = 0.995, 3
# From here on common practice, no source: head room, a usable level, a usable distance to noise.
HOT_DB = -3.0
FAINT_DB = -35.0
CLEAR_DB = 25.0


@dataclass(frozen=True, slots=True)
class Level:
    """All in dB against full scale.

    `loud_db` is the level of the loudest twentieth of the 20 ms frames, `noise_db` that of the
    quietest tenth; `clipped` counts samples at full scale.
    `advice` is "too hot", "move nearer", "noisy" or "good".
    """

    loud_db: float
    noise_db: float
    clipped: int
    advice: str


def measure_level(samples: NDArray[np.float32], rate: int) -> Level:
    """The level of a recording with some playing and some silence in it, float32 (n,)."""
    length = max(1, round(FRAME_S * rate))
    count = len(samples) // length
    if count == 0:
        raise ValueError("a fiftieth of a second of sound is needed at least")
    x = whole(0, samples, rate)[0].astype(float)
    powers = np.mean(x[: count * length].reshape(count, length) ** 2, axis=1)
    peak_db = _db(float(np.max(np.abs(x))) ** 2)
    loud_db = _db(float(np.percentile(powers, 95)))
    noise_db = _db(float(np.percentile(powers, 10)))
    clipped = int(np.sum(np.abs(x) >= FULL))
    advice = _advice(peak_db, loud_db, noise_db, clipped)
    return Level(loud_db, noise_db, clipped, advice)


def overdriven(samples: NDArray[np.float32]) -> bool:
    """Whether samples, full scale 1.0, were cut off on their way."""
    return int(np.sum(np.abs(samples) >= CLIP_LEVEL)) >= CLIPPED_SAMPLES


def _advice(peak_db: float, loud_db: float, noise_db: float, clipped: int) -> str:
    if clipped or peak_db > HOT_DB:
        return "too hot"
    if loud_db < FAINT_DB:
        return "move nearer"
    return "noisy" if loud_db - noise_db < CLEAR_DB else "good"


def _db(power: float) -> float:
    return max(FLOOR_DB, 10 * float(np.log10(power))) if power > 0 else FLOOR_DB
