"""The pitch of one window of sound, octave included, and its refinement to a fraction of a cent.

The octave and a first value come from the normalised autocorrelation (the square difference
function divided by the energies of the two stretches; P. McLeod and G. Wyvill, "A smarter way to
find pitch", ICMC 2005, from memory): the first peak nearly as high as the highest is the period.
The refinement compares the phases of all strong harmonics in two windows some periods apart: what
they have turned beyond k times the assumed pitch is its error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.hear.peak import summit

Floats = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 36.0, 1100.0
NEARLY = 0.9
HIGHEST_HARMONIC_HZ = 5000.0
MOST_HARMONICS = 24
ROUNDS = 2
LARGEST_STEP = 0.02


@dataclass(frozen=True, slots=True)
class Pitch:
    """A frequency in Hz and how periodic the window was (1: wholly)."""

    hz: float
    clarity: float


def longest_period(rate: int) -> int:
    """Frames of the longest period that is looked for."""
    return int(rate / LOWEST_HZ) + 2


def find_pitch(window: Floats, rate: int) -> Pitch | None:
    """The pitch of `window`, float64 (n,), n at least two of the longest periods; None: silence."""
    likeness = _likeness(window - np.mean(window), longest_period(rate))
    if likeness is None:
        return None
    # Within the first fall every lag is like no lag: the search starts behind it.
    fallen = np.nonzero(likeness < 0)[0]
    first = max(int(rate / HIGHEST_HZ), int(fallen[0]) if len(fallen) else 0)
    inner = likeness[first:-1]
    peaks = first + 1 + np.nonzero((inner[1:-1] >= inner[:-2]) & (inner[1:-1] > inner[2:]))[0]
    if not len(peaks):
        return None
    best = float(np.max(likeness[peaks]))
    if best <= 0:
        return None
    lag = int(peaks[np.argmax(likeness[peaks] >= NEARLY * best)])
    shift, height = summit(likeness, lag)
    return Pitch(rate / (lag + shift), min(1.0, height))


def refine(sound: Floats, rate: int, hz: float) -> float:
    """The frequency in Hz of a steady tone of about `hz` (within 20 cents); `sound` float64 (n,),
    at least six periods long."""
    length = len(sound) * 2 // 3
    apart = len(sound) - length
    orders = np.arange(1, MOST_HARMONICS + 1)
    for _ in range(ROUNDS):
        kept = orders[orders * hz < min(HIGHEST_HARMONIC_HZ, 0.45 * rate)]
        first = _harmonics(sound[:length], 0, rate, hz, kept)
        second = _harmonics(sound[apart:], apart, rate, hz, kept)
        turned = np.angle(second * np.conj(first))
        strength = np.abs(first * second) * kept
        error = np.sum(strength * turned) / (np.sum(strength * kept) + 1e-30)
        step = float(error * rate / (2 * np.pi * apart))
        hz += float(np.clip(step, -LARGEST_STEP * hz, LARGEST_STEP * hz))
    return hz


def _likeness(window: Floats, longest: int) -> Floats | None:
    """2 r(lag) / (energy of the stretch before + of the one after), lags 0 to `longest`."""
    count = len(window)
    size = 1 << int(np.ceil(np.log2(count + longest + 1)))
    spectrum = np.fft.rfft(window, size)
    products = np.fft.irfft(np.abs(spectrum) ** 2, size)[: longest + 1]
    sums = np.concatenate([[0.0], np.cumsum(window**2)])
    lags = np.arange(longest + 1)
    energies = sums[count - lags] + (sums[count] - sums[lags])
    if energies[0] <= 1e-12 * count:
        return None
    likeness: Floats = 2 * products / np.maximum(energies, 1e-12)
    return likeness


def _harmonics(
    part: Floats, start: int, rate: int, hz: float, orders: NDArray[np.int_]
) -> NDArray[np.complex128]:
    """Amplitude and phase of each harmonic (orders 1, 2 ...) under a Hann window, phases counted
    from frame 0."""
    turn = np.exp(-2j * np.pi * hz / rate * np.arange(start, start + len(part)))
    wave = (part * np.hanning(len(part))).astype(np.complex128)
    amplitudes = np.zeros(len(orders), np.complex128)
    # The harmonics are the powers of one rotation: far cheaper than so many exponentials.
    for k in range(len(orders)):
        wave *= turn
        amplitudes[k] = wave.sum()
    return amplitudes
