"""Learning the click from a take in which the horn sounds over every one of them.

Each frequency of the click's spectrum is averaged over all clicks, a click counting the less there,
the more of the horn is in it (reweighted least squares on what is left; the horn's harmonics lie
elsewhere with every note).  Clicks that the result does not fit are tried again among themselves:
an accent sounds different.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from coach.hear.clickwave import STRAY_S, ClickWave, made_wave, stands_out

Floats = NDArray[np.float64]
Spectra = NDArray[np.complex128]

NEEDED = 6
ROUNDS = 8
FITS = 0.25
SEARCH_S = 0.0006
UPSAMPLED = 8
LEFT_DB = -12.0
MOST_GROUPS = 3


def learn_under(lessons: Sequence[Floats], rate: int, *, before: int) -> list[ClickWave]:
    """Clicks in `lessons` (as for `clickwave.learn`); empty where none is plain."""
    found: list[ClickWave] = []
    left = list(lessons)
    for _ in range(MOST_GROUPS):
        if len(left) < NEEDED:
            break
        wave, fits = _one(left, rate, before)
        if wave is None:
            break
        found.append(wave)
        left = [lesson for lesson, fit in zip(left, fits, strict=True) if not fit]
    return found


def _one(
    lessons: Sequence[Floats], rate: int, before: int
) -> tuple[ClickWave | None, NDArray[np.bool_]]:
    """The click that most of the lessons hold, and which of them do."""
    length = len(lessons[0])
    spectra = np.fft.rfft(np.array(lessons) * _soft_ends(length))
    fits = np.ones(len(lessons), dtype=bool)
    delays = np.zeros(len(lessons))
    for _ in range(3):
        if np.sum(fits) < NEEDED:
            return None, fits
        turned = spectra * np.exp(2j * np.pi * np.fft.rfftfreq(length) * delays[:, None])
        click = _average(turned[fits])
        delays, likeness = _fit(spectra, click, length, rate)
        fits = likeness > FITS
    if np.sum(fits) < NEEDED or np.std(delays[fits]) > STRAY_S * rate:
        return None, fits
    mean = np.fft.irfft(click, length)
    if not stands_out(mean, rate, before):
        return None, fits
    return made_wave(mean, LEFT_DB, 1, rate, before), fits


def _soft_ends(length: int) -> Floats:
    edge = length // 20
    ramp = np.sin(np.pi / 2 * (np.arange(edge) + 0.5) / edge) ** 2
    return np.concatenate([ramp, np.ones(length - 2 * edge), ramp[::-1]])


def _average(spectra: Spectra) -> Spectra:
    """Shape (lessons, bins) to (bins,)."""
    click: Spectra = np.median(spectra.real, axis=0) + 1j * np.median(spectra.imag, axis=0)
    for _ in range(ROUNDS):
        weights = 1 / _smooth(np.abs(spectra - click) ** 2)
        click = np.sum(spectra * weights, axis=0) / np.sum(weights, axis=0)
    return click


def _smooth(powers: Floats) -> Floats:
    """Moving average over three bins, with a floor."""
    padded = np.pad(powers, ((0, 0), (1, 1)), mode="edge")
    mean: Floats = (padded[:, :-2] + padded[:, 1:-1] + padded[:, 2:]) / 3
    return mean + 1e-12 * float(np.mean(powers)) + 1e-24


def _fit(spectra: Spectra, click: Spectra, length: int, rate: int) -> tuple[Floats, Floats]:
    """For each lesson the delay of the click in it, and how plainly it is there (up to 1)."""
    weights = 1 / _smooth(np.abs(spectra) ** 2)
    joint = np.fft.irfft(spectra * np.conj(click) * weights, length * UPSAMPLED) * UPSAMPLED
    scale = np.sum(np.abs(spectra) ** 2 * weights, axis=1)
    scale *= np.sum(np.abs(click) ** 2 * weights, axis=1)
    reach = round(SEARCH_S * rate * UPSAMPLED)
    near = np.concatenate([joint[:, -reach:], joint[:, : reach + 1]], axis=1)
    best = np.argmax(near, axis=1)
    peaks = np.take_along_axis(near, best[:, None], axis=1)[:, 0]
    likeness = peaks * length / 2 / np.sqrt(scale + 1e-30)
    delays = np.where(likeness > FITS, (best - reach) / UPSAMPLED, 0.0)
    return delays, likeness
