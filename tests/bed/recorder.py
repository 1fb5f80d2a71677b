"""Poor recorders: automatic gain, narrow bands, other rates, clipping, hum.  The truth stays."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tests.bed.room import level_of
from tests.bed.take import Take

Floats = NDArray[np.float64]

# A laptop's automatic gain: 12 dB off the loudest, one dB out for four in above the threshold.
COMPRESSED_DB, RATIO = 12.0, 4.0
HOP_S = 0.001
HUM_DB, HUM_HZ, HUM_PARTS = -20.0, 50.0, (1.0, 0.5, 0.25)
DC_SHARE = 0.5


def compressed(take: Take, attack_s: float, release_s: float) -> Take:
    """Through an automatic gain that takes `COMPRESSED_DB` off the loudest and as much less off the
    softer; its gain falls within `attack_s` and comes back within `release_s`."""
    hop = round(HOP_S * take.rate)
    sound = take.samples.astype(np.float64)
    count = -(-len(sound) // hop)
    peaks = np.abs(np.pad(sound, (0, count * hop - len(sound)))).reshape(count, hop).max(axis=1)
    keeps = [math.exp(-HOP_S / seconds) for seconds in (attack_s, release_s)]
    level, levels = 0.0, np.empty(count)
    for k, peak in enumerate(peaks.tolist()):
        keep = keeps[0] if peak > level else keeps[1]
        level = keep * level + (1 - keep) * peak
        levels[k] = level
    level_db = 20 * np.log10(levels / levels.max() + 1e-9)
    threshold_db = -COMPRESSED_DB * RATIO / (RATIO - 1)
    gain_db = -(1 - 1 / RATIO) * np.maximum(0.0, level_db - threshold_db)
    gain = np.interp(np.arange(len(sound)), (np.arange(count) + 1) * hop, 10 ** (gain_db / 20))
    made = sound * gain
    return _with(take, made * (np.max(np.abs(sound)) / np.max(np.abs(made))))


def at_rate(take: Take, rate: int) -> Take:
    """Recorded at another rate."""
    return replace(_with(take, _rated(take.samples, take.rate, rate)), rate=rate)


def banded(take: Take, through: int, rate: int) -> Take:
    """Nothing above about 0.46 of `through` frames a second; recorded at `rate`."""
    narrow = _rated(take.samples, take.rate, through)
    return replace(_with(take, _rated(narrow, through, rate)), rate=rate)


def _rated(samples: NDArray[Any], old: int, new: int) -> Floats:
    if old == new:
        return np.asarray(samples, dtype=np.float64)
    common = math.gcd(old, new)
    made = resample_poly(samples.astype(np.float64), new // common, old // common)
    return np.asarray(made)


def clipped(take: Take, share: float) -> Take:
    """Turned up until this share of the samples lies beyond full scale, and cut off there."""
    level = float(np.quantile(np.abs(take.samples), 1 - share))
    return _with(take, np.clip(take.samples.astype(np.float64) / level, -1.0, 1.0))


def humming(take: Take) -> Take:
    """With hum of the mains 20 dB under the horn, and a direct current of half its level."""
    level = level_of(take.samples.astype(np.float64))
    t = np.arange(len(take.samples)) / take.rate
    hum = sum(
        share * np.sin(2 * np.pi * HUM_HZ * n * t + n) for n, share in enumerate(HUM_PARTS, 1)
    )
    hum *= 10 ** (HUM_DB / 20) / np.sqrt(np.mean(hum**2))
    return _with(take, take.samples + level * (hum + DC_SHARE))


def _with(take: Take, sound: Floats) -> Take:
    return replace(take, samples=np.asarray(sound, dtype=np.float32))
