"""Any rate to the ear's working rate, in blocks of any size with the same result.

Windowed-sinc interpolation (a Kaiser window, beta 8): every output sample is a short weighted sum
of input samples; the weights repeat with the ratio of the two rates and are made once.
"""

from __future__ import annotations

from math import gcd

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Samples = NDArray[np.float32]

ZEROS = 12
BETA = 8.0
PASS_SHARE = 0.92
# So many outputs at a time: each needs its own copy of what the filter reaches, and more of them
# than the processor holds at hand took twice as long.
AT_ONCE = 512


class Resampler:
    """From `rate` to `to_rate` frames a second; output n lies at input time n * rate / to_rate.

    The filter looks ahead: `delay_frames` input frames more are needed before an output comes out.
    """

    def __init__(self, rate: int, to_rate: int) -> None:
        common = gcd(rate, to_rate)
        self._up, self._down = to_rate // common, rate // common
        cutoff = PASS_SHARE * min(1.0, to_rate / rate)
        self.delay_frames = int(np.ceil(ZEROS / cutoff))
        # Leading zeros put the middle of the filter on a multiple of the step.
        self._lead = -(-self.delay_frames * self._up // self._down)
        middle = self._lead * self._down
        self._weights = _by_phase(_sinc(self._up, cutoff, self.delay_frames, middle), self._up)
        self._kept: Samples = np.zeros(0, np.float32)
        self._kept_from = 0
        self._made = 0

    def feed(self, samples: Samples) -> Samples:
        """Output that can be made by now."""
        self._kept = np.concatenate([self._kept, samples])
        end = self._kept_from + len(self._kept)
        ready = ((end - self.delay_frames - 1) * self._up) // self._down + 1
        if ready <= self._made:
            return np.zeros(0, np.float32)
        first = self._made - self._kept_from * self._up // self._down + self._lead
        made = self._filtered(first, ready - self._made)
        self._made = ready
        self._forget()
        return made

    def _filtered(self, first: int, count: int) -> Samples:
        """So many outputs, counted at `to_rate` from the first kept frame and the middle of the
        filter on."""
        reach = self._weights.shape[1]
        last = (first + count - 1) * self._down // self._up
        padded = np.pad(self._kept, (reach - 1, max(0, last + 1 - len(self._kept))))
        windows = sliding_window_view(padded, reach)
        made = np.empty(count, np.float32)
        for start in range(0, count, AT_ONCE):
            part = made[start : start + AT_ONCE]
            places = np.arange(first + start, first + start + len(part)) * self._down
            frames, phases = np.divmod(places, self._up)
            np.einsum("ij,ij->i", windows[frames], self._weights[phases], out=part)
        return made

    def _forget(self) -> None:
        """Keep what the filter still reaches, from a whole number of steps."""
        needed = (self._made * self._down) // self._up - self.delay_frames - 1
        drop = max(0, (needed - self._kept_from) // self._down * self._down)
        self._kept, self._kept_from = self._kept[drop:], self._kept_from + drop


def _sinc(up: int, cutoff: float, reach: int, middle: int) -> NDArray[np.float32]:
    """The low-pass at `up` times the input rate, its middle at tap `middle`."""
    offsets = (np.arange(2 * middle + 1) - middle) / up
    window = np.i0(BETA * np.sqrt(np.clip(1 - (offsets / reach) ** 2, 0, None))) / np.i0(BETA)
    taps = np.where(np.abs(offsets) <= reach, cutoff * np.sinc(cutoff * offsets) * window, 0.0)
    weights: NDArray[np.float32] = (taps * up / taps.sum()).astype(np.float32)
    return weights


def _by_phase(taps: NDArray[np.float32], up: int) -> NDArray[np.float32]:
    """Every `up`-th tap from each of the first `up` on, the last first: shape (up, reach)."""
    padded = np.pad(taps, (0, -len(taps) % up))
    return np.ascontiguousarray(padded.reshape(-1, up).T[:, ::-1])
