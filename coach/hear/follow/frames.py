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
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Rows = NDArray[np.float32]

RATE = 16_000
HOP = 48
LONG, SHORT = 736, 368
AHEAD = LONG // 2
HARMONICS = 8
BANDS_HZ = (60.0, 120.0, 200.0, 320.0, 480.0, 700.0, 1000.0, 1500.0, 2300.0, 3600.0, 6500.0)
HIGH_HZ, HIGHER_HZ = 1500.0, 4000.0
TIGHT = 96
COMB_WINDOW, COHERENCE_WINDOW = 192, 368
# The longest look back of any row: half the coherence window and a period of the lowest note.
BACK = COHERENCE_WINDOW // 2 + int(RATE / 40.0) + 4
FLOOR = 1e-10
SOUND_CHANNELS = 3 + (len(BANDS_HZ) - 1) + 1
PITCH_CHANNELS = 2 * HARMONICS + 2


def scaled(level_db: NDArray[np.floating]) -> Rows:
    """Levels in dB to numbers of about one."""
    values: Rows = ((level_db + 60.0) / 20.0).astype(np.float32)
    return values


def _spectrum(length: int, bins: NDArray[np.int64]) -> Samples:
    """Windowed cosines and sines for some bins of a transform of `length`; (length, 2 * n)."""
    angles = 2 * np.pi * np.arange(length)[:, None] * bins[None, :] / length
    window = np.hanning(length + 1)[:-1, None]
    both: Samples = (np.concatenate([np.cos(angles), np.sin(angles)], axis=1) * window).astype(
        np.float32
    )
    return both


def _bands(
    length: int, edges_hz: Sequence[tuple[float, float]]
) -> tuple[Samples, NDArray[np.float32]]:
    """Filters for the bins that any band needs, and columns that add the bins of each band."""
    hz = np.arange(length // 2) * RATE / length
    low, high = np.array(edges_hz).T
    inside = (hz[:, None] >= low) & (hz[:, None] < high)
    used = np.flatnonzero(inside.any(axis=1))
    sums = (inside[used] / (length * length / 4)).astype(np.float32)
    return _spectrum(length, used), np.concatenate([sums, sums])


_SHORT_BANDS, _SHORT_SUMS = _bands(SHORT, list(pairwise(BANDS_HZ)))
_TIGHT_BANDS, _TIGHT_SUMS = _bands(TIGHT, [(HIGH_HZ, RATE), (HIGHER_HZ, RATE)])


def windows(sound: Samples, count: int) -> Samples:
    """The long windows of `count` hops, shape (count, LONG): the first is centred on frame BACK of
    `sound`.  The shorter windows are the middles of these."""
    return sound[_places(count)]


@cache
def _places(count: int) -> NDArray[np.int64]:
    first = BACK - LONG // 2
    return first + HOP * np.arange(count)[:, None] + np.arange(LONG)[None, :]


def _middle(long: Samples, length: int) -> Samples:
    start = (LONG - length) // 2
    return long[:, start : start + length]


def sound_rows(long: Samples) -> Rows:
    """The channels of the sound itself, for the long windows of some hops."""
    short, tight = _middle(long, SHORT), _middle(long, TIGHT)
    powers = np.concatenate(
        [
            np.einsum("ij,ij->i", tight, tight)[:, None] / TIGHT,
            (tight @ _TIGHT_BANDS) ** 2 @ _TIGHT_SUMS,
            (short @ _SHORT_BANDS) ** 2 @ _SHORT_SUMS,
            np.einsum("ij,ij->i", long, long)[:, None] / LONG,
        ],
        axis=1,
    )
    return scaled(10 * np.log10(powers + FLOOR))


class PitchFilters:
    """The channels of several pitches (fractional sounding MIDI numbers), `count` hops at once."""

    def __init__(self, pitches: Sequence[float], count: int) -> None:
        hz = 440.0 * 2 ** ((np.asarray(pitches, float) - 69) / 12)
        self._long = _harmonic_filters(hz, LONG)
        self._short = _harmonic_filters(hz, SHORT)
        length = COHERENCE_WINDOW + (count - 1) * HOP
        self._around, self._weights = _delays(RATE / hz, length)
        self._near = _boxes(length, count, COMB_WINDOW)
        self._wide = _boxes(length, count, COHERENCE_WINDOW)

    def rows(self, sound: Samples, long: Samples) -> Rows:
        """Rows of the hops, shape (count, pitches, PITCH_CHANNELS).

        `sound` starts BACK frames before the first hop, `long` are its long windows.
        """
        short = _middle(long, SHORT)
        power = np.concatenate([_power(short @ self._short), _power(long @ self._long)], axis=2)
        residue, coherence = self._comb(sound)
        powers = np.concatenate([power, residue[:, :, None]], axis=2)
        levels = scaled(10 * np.log10(powers + FLOOR))
        return np.concatenate([levels, coherence[:, :, None]], axis=2)

    def _comb(self, sound: Samples) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Power of the comb's residue, and coherence; both of shape (count, pitches)."""
        length = self._near.shape[0]
        start = BACK - COHERENCE_WINDOW // 2
        here = sound[start : start + length]
        around = sound[self._around]
        before = self._weights[:, :1] * around[:, :length]
        for tap in range(1, 4):
            before += self._weights[:, tap : tap + 1] * around[:, tap : tap + length]
        residue = here - before
        left = (residue * residue) @ self._near
        joint = (here * before) @ self._wide
        powers = np.sqrt(((here * here) @ self._wide) * ((before * before) @ self._wide))
        coherence: NDArray[np.float32] = (joint / (powers + FLOOR)).astype(np.float32)
        return left.T, coherence.T


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
    """Places (pitches, length + 3) around one period before, and cubic (Lagrange) weights
    (pitches, 4) of four neighbours each."""
    whole = np.ceil(periods_frames).astype(int)
    f = whole - periods_frames
    weights = [
        -f * (f - 1) * (f - 2) / 6,
        (f + 1) * (f - 1) * (f - 2) / 2,
        -(f + 1) * f * (f - 2) / 2,
        (f + 1) * f * (f - 1) / 6,
    ]
    start = BACK - COHERENCE_WINDOW // 2 - whole - 1
    return start[:, None] + np.arange(length + 3)[None, :], np.stack(weights, axis=1).astype(
        np.float32
    )


def _boxes(length: int, count: int, width: int) -> Samples:
    """Columns that average `width` frames centred on each hop; shape (length, count)."""
    starts = COHERENCE_WINDOW // 2 - width // 2 + HOP * np.arange(count)
    inside = np.arange(length)[:, None] - starts[None, :]
    boxes: Samples = (((inside >= 0) & (inside < width)) / width).astype(np.float32)
    return boxes
