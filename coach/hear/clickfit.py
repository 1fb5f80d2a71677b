"""Fitting a learned click to what the microphone hears while the horn sounds over it.

Gain and delay (below a sample) are fitted in the spectrum by weighted least squares: a frequency
counts the less, the more of the horn is in it.  What was fitted before is the prior, so that under
a loud horn, where a fit alone would mean little, the click is taken to be what it was (a Kalman
filter of two states; R. E. Kalman, 1960, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Spectrum = NDArray[np.complex128]

ROUNDS = 4
SMOOTH_BINS = 9
CAUTION = 2.0
LOWEST_GAIN, HIGHEST_GAIN = 0.35, 2.8
SURE_SHARE = 0.5
BAND_DB = -30.0


@dataclass(frozen=True, slots=True)
class ClickState:
    """Gain and delay in frames of the click now, and how unsure they are (standard deviations)."""

    gain: float = 1.0
    delay: float = 0.0
    gain_sd: float = 0.05
    delay_sd: float = 0.2

    def aged(self, gain_sd: float = 0.02, delay_sd: float = 0.1) -> ClickState:
        """A click later: a player moves, two devices drift."""
        return ClickState(
            self.gain,
            self.delay,
            float(np.hypot(self.gain_sd, gain_sd)),
            float(np.hypot(self.delay_sd, delay_sd)),
        )


@dataclass(frozen=True, slots=True)
class Fitted:
    """`standing` after this click; `quieter`: taking the click away leaves less than there was;
    `misfit` is what is left, weighted, for comparing waves with each other."""

    standing: ClickState
    quieter: bool
    misfit: float


def fit_click(heard: Floats, wave: Floats, prior: ClickState, reach: int) -> Fitted:
    """Fit `wave` (n,) to `heard` (n,), looking `reach` frames around the prior's delay."""
    window = _window(len(heard))
    x = np.fft.rfft(heard * window)
    s = np.fft.rfft(wave * window)
    turn = 2 * np.pi * np.fft.rfftfreq(len(heard))
    gain, delay = prior.gain, _coarse(x, s, prior.delay, reach, len(heard))
    moved = delay != prior.delay
    delay_sd = prior.delay_sd if not moved else 0.5
    believed = np.array([prior.gain, delay if moved else prior.delay])
    certain = np.diag([prior.gain_sd**-2, delay_sd**-2])
    for _ in range(ROUNDS):
        here = s * np.exp(-1j * turn * delay)
        left = x - gain * here
        weight = 1 / (CAUTION * _smooth(np.abs(left) ** 2))
        slopes = np.stack([here, -1j * turn * gain * here])
        normal = np.real((slopes * weight) @ np.conj(slopes.T)) + certain
        pull = np.real((slopes.conj() * weight) @ left)
        pull += certain @ (believed - np.array([gain, delay]))
        step = np.linalg.solve(normal, pull)
        gain = float(np.clip(gain + step[0], LOWEST_GAIN, HIGHEST_GAIN))
        delay += float(np.clip(step[1], -1.0, 1.0))
    spread = np.sqrt(np.diag(np.linalg.inv(normal)))
    here = gain * s * np.exp(-1j * turn * delay)
    standing = ClickState(gain, delay, float(spread[0]), float(spread[1]))
    return Fitted(standing, _is_quieter(x, here, s), _misfit(x, here))


def _window(length: int) -> Floats:
    """Flat with soft ends (a tenth each)."""
    edge = max(1, length // 10)
    ramp = np.sin(np.pi / 2 * (np.arange(edge) + 0.5) / edge) ** 2
    return np.concatenate([ramp, np.ones(length - 2 * edge), ramp[::-1]])


def _smooth(powers: Floats) -> Floats:
    """A moving average over bins, with a floor so that no bin is certain."""
    mean = np.convolve(powers, np.ones(SMOOTH_BINS) / SMOOTH_BINS, mode="same")
    floored: Floats = mean + 1e-6 * float(np.mean(powers)) + 1e-20
    return floored


def _coarse(x: Spectrum, s: Spectrum, delay: float, reach: int, length: int) -> float:
    """The delay to start from: another one than the prior's where the click plainly says so."""
    weight = 1 / _smooth(np.abs(x) ** 2)
    joint = np.fft.irfft(x * np.conj(s) * weight, length)
    scale = np.sqrt(np.sum(np.abs(x) ** 2 * weight) * np.sum(np.abs(s) ** 2 * weight))
    scale *= 2 / length
    around = round(delay) + np.arange(-reach, reach + 1)
    values = joint[around % length] / max(float(scale), 1e-30)
    best = int(np.argmax(values))
    sure = values[best] > SURE_SHARE and values[best] > 1.2 * values[reach]
    return float(around[best]) if sure else delay


def _is_quieter(x: Spectrum, click: Spectrum, s: Spectrum) -> bool:
    """Whether less is left in the click's own band without it."""
    power = np.abs(s) ** 2
    band = power > np.max(power) * 10 ** (BAND_DB / 10)
    weight = power * band / _smooth(np.abs(x - click) ** 2)
    return bool(np.sum(weight * np.abs(x - click) ** 2) <= np.sum(weight * np.abs(x) ** 2))


def _misfit(x: Spectrum, click: Spectrum) -> float:
    weight = 1 / _smooth(np.abs(x) ** 2)
    return float(np.sum(weight * np.abs(x - click) ** 2))
