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
LONG, SHORT = 736, 368
AHEAD = LONG // 2
HARMONICS = 8
BANDS_HZ = (60.0, 120.0, 200.0, 320.0, 480.0, 700.0, 1000.0, 1500.0, 2300.0, 3600.0, 6500.0)
HIGH_HZ, HIGHER_HZ = 1500.0, 4000.0
TIGHT = 96
COMB_WINDOW, COHERENCE_WINDOW = 192, 368
LOWEST_HZ = 25.0
# The longest look back of any row: half the coherence window and a period of the lowest note.
BACK = COHERENCE_WINDOW // 2 + int(RATE / LOWEST_HZ) + 4
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


def windows(sound: Samples, blocks: int, count: int) -> Samples:
    """The long windows of `blocks` times `count` hops, shape (blocks, count, LONG): the first is
    centred on frame BACK of `sound`.  The shorter windows are the middles of these."""
    view = sliding(sound[BACK - LONG // 2 :], (blocks * count, LONG), (HOP, 1))
    # Copied: matrix products are slow where the rows of a matrix overlap.
    return view.copy().reshape(blocks, count, LONG)


def sliding(sound: Samples, shape: tuple[int, ...], steps: tuple[int, ...]) -> Samples:
    """A view of contiguous float32 sound in which each axis moves on by so many frames."""
    # The plain constructor: the helpers of numpy take longer than the work on a single block.
    return np.ndarray(shape, np.float32, sound, strides=tuple(4 * step for step in steps))


def _middle(long: Samples, length: int) -> Samples:
    start = (LONG - length) // 2
    return long[..., start : start + length]


def sound_rows(long: Samples) -> Rows:
    """The channels of the sound itself, shape (blocks * count, SOUND_CHANNELS), for the long
    windows of blocks of hops.

    Each block is a matrix product of its own: the last bits of a sum depend on the shape of the
    product, and may not depend on how many blocks there are at once.
    """
    short, tight = _middle(long, SHORT), _middle(long, TIGHT)
    powers = np.concatenate(
        [
            np.einsum("bij,bij->bi", tight, tight)[..., None] / TIGHT,
            _squares(tight @ _TIGHT_BANDS) @ _TIGHT_SUMS,
            _squares(short @ _SHORT_BANDS) @ _SHORT_SUMS,
            np.einsum("bij,bij->bi", long, long)[..., None] / LONG,
        ],
        axis=2,
    )
    return _levels(powers).reshape(-1, SOUND_CHANNELS)


def _squares(parts: NDArray[np.float32]) -> NDArray[np.float32]:
    """Squared in place."""
    return np.multiply(parts, parts, out=parts)


def _levels(powers: NDArray[np.float32]) -> Rows:
    """Scaled levels of powers, in place: `scaled` of dB without the copies."""
    powers += np.float32(FLOOR)
    np.log10(powers, out=powers)
    powers *= 10
    powers += 60
    powers /= 20
    return powers


class PitchFilters:
    """The channels of several pitches (fractional sounding MIDI numbers), in blocks of `count`
    hops."""

    def __init__(self, pitches: Sequence[float], count: int) -> None:
        hz = 440.0 * 2 ** ((np.asarray(pitches, float) - 69) / 12)
        self._count = count
        self._long = _harmonic_filters(hz, LONG)
        self._short = _harmonic_filters(hz, SHORT)
        self._starts, weights = _delays(RATE / hz)
        self._taps = [weight[:, None] for weight in weights.T]
        self._last = int(self._starts.max(initial=0))
        length = COHERENCE_WINDOW + (count - 1) * HOP
        self._near = _boxes(length, count, COMB_WINDOW)
        self._wide = _boxes(length, count, COHERENCE_WINDOW)

    def rows(self, sound: Samples, long: Samples) -> Rows:
        """Rows of the hops, shape (blocks * count, pitches, PITCH_CHANNELS).

        `sound` starts BACK frames before the first hop, `long` are its long windows, shape
        (blocks, count, LONG).  Each block is a product of its own, as in `sound_rows`.
        """
        blocks = len(long)
        shape = blocks, self._count, len(self._starts)
        powers = np.empty((*shape, PITCH_CHANNELS - 1), np.float32)
        _power(_middle(long, SHORT) @ self._short, powers[..., :HARMONICS])
        _power(long @ self._long, powers[..., HARMONICS:-1])
        residue, coherence = self._comb(sound, blocks)
        powers[..., -1] = residue
        rows = np.empty((*shape, PITCH_CHANNELS), np.float32)
        rows[..., :-1] = _levels(powers)
        rows[..., -1] = coherence
        return rows.reshape(blocks * self._count, -1, PITCH_CHANNELS)

    def _comb(self, sound: Samples, blocks: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Power of the comb's residue, and coherence; both of shape (blocks, count, pitches)."""
        length = COHERENCE_WINDOW + (blocks * self._count - 1) * HOP
        start = BACK - COHERENCE_WINDOW // 2
        here = sound[start : start + length]
        before = self._before(sound, length)
        left = self._summed(_squares(here - before), blocks, self._near)
        joint = self._summed(here * before, blocks, self._wide)
        powers = self._summed((here * here)[None], blocks, self._wide)
        powers = np.sqrt(powers * self._summed(_squares(before), blocks, self._wide))
        coherence = joint / (powers + np.float32(FLOOR))
        return left.transpose(0, 2, 1), coherence.transpose(0, 2, 1)

    def _before(self, sound: Samples, length: int) -> Samples:
        """The sound one period before, shape (pitches, length)."""
        every = sliding(sound, (self._last + 1, length + 3), (1, 1))
        around = every[self._starts]
        before: Samples = self._taps[0] * around[:, :length]
        for tap in range(1, 4):
            before += self._taps[tap] * around[:, tap : tap + length]
        return before

    def _summed(self, lines: Samples, blocks: int, boxes: Samples) -> NDArray[np.float32]:
        """Sums of each line over the boxes of each block; shape (blocks, lines, count)."""
        step = self._count * HOP
        shape = blocks, len(lines), len(boxes)
        sums: NDArray[np.float32] = sliding(lines, shape, (step, lines.shape[1], 1)) @ boxes
        return sums


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


def _power(parts: NDArray[np.float32], out: NDArray[np.float32]) -> None:
    """(blocks, count, pitches * 2 * HARMONICS) to powers (blocks, count, pitches, HARMONICS)."""
    split = _squares(parts).reshape(*out.shape[:3], 2, HARMONICS)
    np.add(split[..., 0, :], split[..., 1, :], out=out)


def _delays(
    periods_frames: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Where the sound around one period before starts, shape (pitches,), and cubic (Lagrange)
    weights (pitches, 4) of four neighbours each.  Longer periods than that of `LOWEST_HZ` are
    taken for it."""
    periods = np.minimum(periods_frames, RATE / LOWEST_HZ)
    whole = np.ceil(periods).astype(int)
    f = whole - periods
    weights = [
        -f * (f - 1) * (f - 2) / 6,
        (f + 1) * (f - 1) * (f - 2) / 2,
        -(f + 1) * f * (f - 2) / 2,
        (f + 1) * f * (f - 1) / 6,
    ]
    start = BACK - COHERENCE_WINDOW // 2 - whole - 1
    return start, np.stack(weights, axis=1).astype(np.float32)


def _boxes(length: int, count: int, width: int) -> Samples:
    """Columns that average `width` frames centred on each hop; shape (length, count)."""
    starts = COHERENCE_WINDOW // 2 - width // 2 + HOP * np.arange(count)
    inside = np.arange(length)[:, None] - starts[None, :]
    boxes: Samples = (((inside >= 0) & (inside < width)) / width).astype(np.float32)
    return boxes
