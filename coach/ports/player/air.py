"""What is random in a note: the air, the tongue's release, slow wander."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.ports.player import timbre
from coach.ports.player.skill import PlayedNote

Floats = NDArray[np.float64]

TONGUE_DB, TONGUE_S = -42.0, 0.008
PUFF_S = 0.015
BREATH_DB = -46.0
NOISE_SECONDS, AIR_HZ, PUFF_HZ = 3, (400.0, 5000.0), (150.0, 900.0)


def wander(count: int, rate: int, sd: float, rng: np.random.Generator) -> Floats:
    """A slow random wander: three sines of 0.5 to 6 Hz, standard deviation `sd` together."""
    step = max(1, rate // 200)
    knots = np.arange(0, count + step, step)
    slow = np.zeros(len(knots))
    for hz, start in zip(rng.uniform(0.5, 6.0, 3), rng.uniform(0, 2 * np.pi, 3), strict=True):
        slow += np.sin(2 * np.pi * hz * knots / rate + start)
    return np.asarray(np.interp(np.arange(count), knots, slow * sd * np.sqrt(2 / 3)))


def breath(
    first: PlayedNote, frames: Floats, level_db: Floats, rate: int, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Noise of the air; and, where the tongue lets go, its hiss and the puff that the first period
    makes (low notes start with one, long before they sing)."""
    air = 10 ** ((first.level_db + BREATH_DB + level_db) / 20)
    head = frames[: int(8 * PUFF_S * rate)] / rate
    if not first.slurred:
        air[: len(head)] += 10 ** ((first.level_db + TONGUE_DB) / 20) * np.exp(-head / TONGUE_S)
    sound = air * _excerpt(AIR_HZ, len(frames), rate, rng)
    if not first.slurred:
        loud = 10 ** ((first.level_db + timbre.puff_db(first.pitch)) / 20)
        puff = loud * np.exp(-head / PUFF_S)
        sound[: len(head)] += puff * _excerpt(PUFF_HZ, len(head), rate, rng)
    return np.asarray(sound, dtype=np.float32)


def _excerpt(
    band_hz: tuple[float, float], count: int, rate: int, rng: np.random.Generator
) -> NDArray[np.float32]:
    table = _noise(band_hz, rate)
    begin = int(rng.integers(len(table)))
    return np.asarray(np.take(table, np.arange(begin, begin + count), mode="wrap"))


@lru_cache(maxsize=8)
def _noise(band_hz: tuple[float, float], rate: int) -> NDArray[np.float32]:
    """A few seconds of noise of RMS 1 in a band, falling by 3 dB an octave; always the same."""
    count = NOISE_SECONDS * rate
    spectrum = np.fft.rfft(np.random.default_rng(20).standard_normal(count))
    hz = np.fft.rfftfreq(count, 1 / rate)
    spectrum *= (hz > band_hz[0]) & (hz < min(band_hz[1], 0.45 * rate))
    spectrum /= np.sqrt(np.maximum(hz, band_hz[0]))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), dtype=np.float32)
