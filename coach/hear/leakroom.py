"""How the room answers the loudspeakers: an impulse response fitted to all that was heard so far.

Least squares with weights.  The sound is cut into overlapping stretches; in the spectrum of each,
every frequency counts the less, the more of something else (the player, noise) is in it:

    sum over stretches and frequencies of |Y - H X|^2 / s,   plus sum over taps of h^2 / p,

s being what was left there at the time, smoothed, and p how large a tap of a room is expected to be
(it dies away).  What was left is never taken for much less than the echo itself: no fit is exact,
and the equations would be so ill-conditioned that they were not solved in time.  They are Toeplitz
but for p, and solved by conjugate gradients with the FFT, each time from the solution before.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Spectrum = NDArray[np.complex128]

RATE = 16_000
BEFORE = 96  # 6 ms, should the calibrated round trip be too long
TAPS = 4000  # 250 ms in all
STRETCH = 16384  # under a second of sound the last taps were fitted badly
LONG = 32768
DIES_S, DIRECT_S, ECHO_SHARE = 0.45, 0.004, 0.2
SETTLED, LEAST_ENERGY = 5, 1e-9
# Stretches overlap, and a padded spectrum has more bins than the samples say: what is told is
# counted that much less (REDUNDANT), and a sum over LONG bins is LONG times that over taps.
REDUNDANT = 3
COUNTED = LONG / REDUNDANT
LAST, SLOWEST_FALL, NOTHING = TAPS // 4, 0.9, 1e-30
DOUBTED = 51  # bins over which the answer of a room is much alike
ROUNDS = 16
SMOOTH_HZ = 200.0
FLOOR_DB, QUIET_DB = -25.0, -50.0


class RoomFit:
    """`add` stretches, `solve`, and take the `echo`: `taps` (TAPS,) are the room's answer to one
    sample, the first of them BEFORE samples before it."""

    def __init__(self) -> None:
        self.taps: Floats = np.zeros(TAPS)
        self._told: Floats = np.zeros(LONG // 2 + 1)
        self._crossed: Spectrum = np.zeros(LONG // 2 + 1, complex)
        self._window = np.hanning(STRETCH + 1)[:-1]
        self._shape = _shape()
        self._stretches = 0

    def echo(self, played: Floats, length: int) -> Floats:
        """What is heard of `played` (length + TAPS - 1,), the last sample of which is BEFORE later
        than the last of the result (length,)."""
        size = fast_length(len(played))
        spectrum = np.fft.rfft(played, size) * np.fft.rfft(self.taps, size)
        return np.fft.irfft(spectrum, size)[TAPS - 1 : TAPS - 1 + length]

    def add(self, played: Floats, heard: Floats) -> None:
        """One stretch: `heard` (STRETCH,) and `played` as for `echo`."""
        left = heard - self.echo(played, STRETCH)
        x = np.fft.rfft(played[TAPS - 1 :] * self._window, LONG)
        e = np.fft.rfft(left * self._window, LONG)
        answer = np.fft.rfft(self.taps, LONG)
        doubt = 10 ** (FLOOR_DB / 10) * _smooth(np.abs(answer * x) ** 2)
        weight = COUNTED / (_smooth(np.abs(e) ** 2) + doubt + NOTHING)
        told = weight * np.abs(x) ** 2
        # By the exact echo, so that cutting stretches out costs only what the fit lacks.
        self._crossed += weight * np.conj(x) * e + told * answer
        self._told += told
        self._stretches += 1

    def solve(self) -> None:
        """Some steps towards the taps that fit best."""
        prior = self._prior()

        def times(taps: Floats) -> Floats:
            return _first(np.fft.rfft(taps, LONG) * self._told) + taps / prior

        diagonal = 1 / (float(_first(self._told.astype(complex))[0]) + 1 / prior)
        self.taps = _conjugate(times, _first(self._crossed), self.taps, diagonal)

    def unknown(self, size: int) -> Floats:
        """The square of what the answer may be off, for the bins of a spectrum of `size` samples:
        the prior's, the smaller the more was told in the neighbourhood of a frequency."""
        near = np.convolve(self._told / COUNTED, np.ones(DOUBTED), mode="same") / REDUNDANT
        energy = float(np.sum(self._prior()))
        every = LONG // size
        off: Floats = energy / (1 + energy * near[::every])
        return off

    @property
    def beyond(self) -> float:
        """The energy of the echo that comes too late for the taps, against all of it: its fall over
        the last part goes on."""
        powers = self.taps**2
        whole, last = float(np.sum(powers)), float(np.sum(powers[-LAST:]))
        falls = min(SLOWEST_FALL, last / (float(np.sum(powers[-2 * LAST : -LAST])) + NOTHING))
        return last * falls / (1 - falls) / (whole + NOTHING)

    def _prior(self) -> Floats:
        energy = float(np.sum(self.taps**2)) if self._stretches >= SETTLED else 1.0
        return self._shape * max(energy, LEAST_ENERGY)


@cache
def fast_length(least: int) -> int:
    """The smallest product of twos, threes and fives that is not less: for the FFT."""
    odd: list[int] = [3**threes * 5**fives for threes in range(12) for fives in range(8)]
    return min(part << max(0, (-(-least // part) - 1).bit_length()) for part in odd)


def _first(spectrum: Spectrum) -> Floats:
    return np.fft.irfft(spectrum, LONG)[:TAPS]


def _smooth(left: Floats) -> Floats:
    """Powers by frequency, levelled over SMOOTH_HZ."""
    width = round(SMOOTH_HZ * LONG / RATE)
    smooth = np.convolve(left, np.ones(width) / width, mode="same")
    return smooth + 10 ** (QUIET_DB / 10) * float(np.max(smooth))


def _shape() -> Floats:
    """How large the square of each tap is expected to be, 1 in all: mostly the direct sound, within
    some ms, and an echo that dies away."""
    t = (np.arange(TAPS) - BEFORE) / RATE
    tail = np.where(t > 0, 10 ** (-6 * t / DIES_S), 0.0)
    direct = np.exp(-np.abs(t - DIRECT_S) / DIRECT_S)
    return np.asarray(ECHO_SHARE * tail / tail.sum() + direct / direct.sum() + 1e-9)


def _conjugate(
    times: Callable[[Floats], Floats], right: Floats, start: Floats, diagonal: Floats
) -> Floats:
    """ROUNDS steps of conjugate gradients (Hestenes and Stiefel 1952), preconditioned."""
    taps = start.copy()
    rest = right - times(taps)
    way = ready = diagonal * rest
    size = float(rest @ ready)
    for _ in range(ROUNDS):
        gone = times(way)
        if size <= 0 or (bend := float(way @ gone)) <= 0:
            break
        taps = taps + size / bend * way
        rest = rest - size / bend * gone
        ready = diagonal * rest
        before, size = size, float(rest @ ready)
        way = ready + size / before * way
    return taps
