"""What the follower sees: features of the sound every 3 ms, for the sound and for single pitches.

All times are hops of `HOP` frames at `RATE`; row t is centred on frame t * HOP.  A row needs
`AHEAD` frames of sound after its centre.  Levels are in dB re full scale, scaled by `scaled`.

For the sound as a whole (`SOUND_CHANNELS`): the level of 6 ms, of the band above 1.5 kHz and above
4 kHz in 6 ms, ten bands of 23 ms, and the level of 46 ms.
For one pitch (`PITCH_CHANNELS`): the levels of its first eight harmonics through 23 and 46 ms
windows, the level of what a comb that removes the pitch leaves (over 12 ms), and the coherence of
the sound with itself one period before.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Rows = NDArray[np.float32]

RATE = 16_000
HOP = 48
LONG, SHORT, BAND_FFT = 736, 368, 512
AHEAD = LONG // 2
HARMONICS = 8
BANDS_HZ = (60.0, 120.0, 200.0, 320.0, 480.0, 700.0, 1000.0, 1500.0, 2300.0, 3600.0, 6500.0)
HIGH_HZ, HIGHER_HZ = 1500.0, 4000.0
TIGHT, HIGH_FFT = 96, 128
COMB_WINDOW, COHERENCE_WINDOW = 192, 368
FLOOR = 1e-10
SOUND_CHANNELS = 3 + (len(BANDS_HZ) - 1) + 1
PITCH_CHANNELS = 2 * HARMONICS + 2


def scaled(level_db: NDArray[np.floating]) -> Rows:
    """Levels in dB to numbers of about one."""
    values: Rows = ((level_db + 60.0) / 20.0).astype(np.float32)
    return values


def sound_rows(sound: Samples, first_frame: int, first: int, count: int) -> Rows:
    """The channels of the sound itself for hops first .. first + count - 1."""
    long = _part(sound, first_frame, first, count, LONG)
    bands = _powers(_part(sound, first_frame, first, count, SHORT), _BANDS) @ _BAND_SUMS
    tight = _part(sound, first_frame, first, count, TIGHT)
    high = _powers(tight, _HIGH) @ _HIGH_SUMS
    whole = np.stack([np.mean(tight**2, axis=1), np.mean(long**2, axis=1)], axis=1)
    powers = np.concatenate([whole[:, :1], high, bands, whole[:, 1:]], axis=1)
    return scaled(10 * np.log10(powers + FLOOR))


def _spectrum(length: int, size: int) -> Samples:
    """Cosines and sines under a window for all bins of `size`; (length, 2 * bins)."""
    t = np.arange(length)[:, None] / RATE
    angles = 2 * np.pi * t * np.fft.rfftfreq(size, 1 / RATE)[None, :]
    window = np.hanning(length + 1)[:-1, None]
    both: Samples = (np.concatenate([np.cos(angles), np.sin(angles)], axis=1) * window).astype(
        np.float32
    )
    return both


def _sums(size: int, edges_hz: Sequence[tuple[float, float]], length: int) -> Samples:
    """Columns that add the bins of each band; (bins, bands)."""
    hz = np.fft.rfftfreq(size, 1 / RATE)[:, None]
    low, high = np.array(edges_hz).T
    sums: Samples = (((hz >= low) & (hz < high)) / (length * size / 4)).astype(np.float32)
    return sums


def _powers(windows: Samples, spectrum: Samples) -> NDArray[np.float32]:
    parts = windows @ spectrum
    bins = parts.shape[1] // 2
    return parts[:, :bins] ** 2 + parts[:, bins:] ** 2


def _part(sound: Samples, first_frame: int, first: int, count: int, length: int) -> Samples:
    start = first * HOP - length // 2 - first_frame
    view = np.lib.stride_tricks.sliding_window_view(sound[start:], length)
    return view[::HOP][:count]


_BANDS = _spectrum(SHORT, BAND_FFT)
_BAND_SUMS = _sums(BAND_FFT, list(pairwise(BANDS_HZ)), SHORT)
_HIGH = _spectrum(TIGHT, HIGH_FFT)
_HIGH_SUMS = _sums(HIGH_FFT, [(HIGH_HZ, RATE), (HIGHER_HZ, RATE)], TIGHT)


class PitchFilters:
    """The channels of several pitches (fractional sounding MIDI numbers), `count` hops at once."""

    def __init__(self, pitches: Sequence[float], count: int) -> None:
        hz = 440.0 * 2 ** ((np.asarray(pitches, float) - 69) / 12)
        self._count = count
        self._long = _harmonic_filters(hz, LONG)
        self._short = _harmonic_filters(hz, SHORT)
        length = COHERENCE_WINDOW + (count - 1) * HOP
        self._places, self._weights = _delays(RATE / hz, length)
        self._near = _boxes(length, count, COMB_WINDOW)
        self._wide = _boxes(length, count, COHERENCE_WINDOW)

    def rows(self, sound: Samples, first_frame: int, first: int) -> Rows:
        """Rows for hops first .. first + count - 1, shape (count, pitches, PITCH_CHANNELS).

        `sound` starts at `first_frame` and reaches BACK before and AHEAD after the hops.
        """
        long = _part(sound, first_frame, first, self._count, LONG) @ self._long
        short = _part(sound, first_frame, first, self._count, SHORT) @ self._short
        power = np.concatenate([_power(short), _power(long)], axis=2)
        levels = scaled(10 * np.log10(power + FLOOR))
        return np.concatenate([levels, self._comb(sound, first_frame, first)], axis=2)

    def _comb(self, sound: Samples, first_frame: int, first: int) -> Rows:
        """Level of the comb's residue, and coherence; shape (count, pitches, 2)."""
        start = first * HOP - COHERENCE_WINDOW // 2 - first_frame
        here = sound[start : start + self._near.shape[0]]
        before = np.zeros((len(self._places), len(here)), np.float32)
        for tap in range(4):
            before += self._weights[:, tap, None] * sound[start + self._places + tap]
        residue = ((here - before) ** 2) @ self._near
        joint = (here * before) @ self._wide
        powers = np.sqrt(((here * here) @ self._wide) * ((before * before) @ self._wide))
        coherence = joint / (powers + FLOOR)
        level = scaled(10 * np.log10(residue + FLOOR))
        return np.stack([level, coherence.astype(np.float32)], axis=2).transpose(1, 0, 2)


def _harmonic_filters(hz: NDArray[np.float64], length: int) -> Samples:
    """Cosines and sines of the harmonics under a window; (length, pitches * 2 * HARMONICS)."""
    t = (np.arange(length) - length // 2) / RATE
    window = np.hanning(length + 1)[:-1]
    window = 2 * window / window.sum()
    harmonics = hz[:, None] * np.arange(1, HARMONICS + 1)
    angles = 2 * np.pi * t[:, None, None] * harmonics
    audible = harmonics < 0.47 * RATE
    both = np.concatenate([np.cos(angles) * audible, np.sin(angles) * audible], axis=2)
    filters: Samples = (both * window[:, None, None]).reshape(length, -1).astype(np.float32)
    return filters


def _power(parts: NDArray[np.float32]) -> NDArray[np.float32]:
    """(count, pitches * 2 * HARMONICS) to powers (count, pitches, HARMONICS)."""
    split = parts.reshape(len(parts), -1, 2, HARMONICS)
    power: NDArray[np.float32] = (split**2).sum(axis=2)
    return power


def _delays(
    periods_frames: NDArray[np.float64], length: int
) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Places (pitches, length) one period before, and cubic (Lagrange) weights (pitches, 4)."""
    whole = np.ceil(periods_frames).astype(int)
    f = whole - periods_frames
    weights = [
        -f * (f - 1) * (f - 2) / 6,
        (f + 1) * (f - 1) * (f - 2) / 2,
        -(f + 1) * f * (f - 2) / 2,
        (f + 1) * f * (f - 1) / 6,
    ]
    places = np.arange(length)[None, :] - whole[:, None] - 1
    return places, np.stack(weights, axis=1).astype(np.float32)


def _boxes(length: int, count: int, width: int) -> Samples:
    """Columns that average `width` frames centred on each hop; shape (length, count)."""
    starts = COHERENCE_WINDOW // 2 - width // 2 + HOP * np.arange(count)
    inside = np.arange(length)[:, None] - starts[None, :]
    boxes: Samples = (((inside >= 0) & (inside < width)) / width).astype(np.float32)
    return boxes


# The longest look back of any row: half the coherence window and a period of the lowest note.
BACK = COHERENCE_WINDOW // 2 + int(RATE / 40.0) + 4
