"""Learning how the click sounds in the microphone, from clicks over which nobody plays.

The sounds at the known click times are aligned to each other below a sample (cross-correlation on
a fourfold grid with a parabola through its peak; the shift is a turn of phase in the spectrum), and
averaged.  The room's answer to the click is part of what is learned.  The average is weighted in
time by how far it stands out of the noise (Wiener's rule), so its tail ends where the noise begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from coach.hear.peak import summit

Floats = NDArray[np.float64]

BEFORE_S, EARLY_S, LONGEST_S = 0.045, 0.005, 0.180
STEP_S = 0.002
LOWEST_HZ = 150.0
AUDIBLE_DB = 10.0
ALIKE = 0.6
SEARCH_S, STRAY_S = 0.002, 0.0004
UPSAMPLED = 4
FADE_S = 0.004
START_DB, QUIET_DB, SHARP_S = -30.0, -20.0, 0.010
SINGLE_RESIDUE_DB, BEST_RESIDUE_DB = -20.0, -40.0


@dataclass(frozen=True, slots=True)
class ClickWave:
    """A click as the microphone hears it.

    `wave`: float64 (n,), its first value belonging `offset_frames` after the click's frame (before:
    negative).  `loud_frame` is where in it the sound begins, `loud_frames` how long it stays within
    20 dB of its peak.  `level_db` is the RMS level of its loudest 2 ms, `noise_db` that of the
    room, `residue_db` what a removal leaves of it at best, against its whole energy.
    """

    wave: Floats
    offset_frames: int
    loud_frame: int
    loud_frames: int
    level_db: float
    noise_db: float
    residue_db: float


def span_frames(click_frames: Sequence[int], rate: int) -> tuple[int, int]:
    """Frames before and after a click that a lesson needs: up to the next click at most."""
    gaps = [b - a for a, b in pairwise(click_frames)]
    after = min([round(LONGEST_S * rate), *(gap - round(EARLY_S * rate) for gap in gaps)])
    return round(BEFORE_S * rate), max(after, round(2 * STEP_S * rate))


def learn(lessons: Sequence[Floats], rate: int, *, before: int) -> ClickWave | None:
    """The click in `lessons` (float64 (n,), the click's frame at index `before`), None where none
    is heard: not 10 dB above the noise before it, not the same from one lesson to the next, not at
    the same time, or not as sharp as a click."""
    heard = [lesson for lesson in lessons if stands_out(low_cut(lesson, rate), rate, before)]
    if not heard or 2 * len(heard) < len(lessons):
        return None
    aligned, delays = align(heard, rate, before)
    if np.std(delays) > STRAY_S * rate:
        return None
    middle = np.median(aligned, axis=0)
    alike = [a for a in aligned if likeness(a[before:], middle[before:]) >= ALIKE]
    if 2 * len(alike) < len(aligned) or not alike:
        return None
    return made_wave(
        np.mean(alike, axis=0), _left_over_db(alike, rate, before), len(alike), rate, before
    )


def likeness(a: Floats, b: Floats) -> float:
    """Correlation coefficient of two waves in place."""
    return float(a @ b / np.sqrt((a @ a) * (b @ b) + 1e-30))


def align(lessons: Sequence[Floats], rate: int, before: int) -> tuple[Floats, Floats]:
    """Lessons moved onto their common average, shape (lessons, n), and by how much each came late
    against the middle one, in frames."""
    raw = np.array(lessons)
    waves = np.array([low_cut(lesson, rate) for lesson in lessons])
    reference = waves[int(np.argsort(np.sum(waves**2, axis=1))[len(waves) // 2])]
    head = slice(before - round(EARLY_S * rate), before + round(LONGEST_S / 3 * rate))
    for _ in range(3):
        reach = round(SEARCH_S * rate)
        delays = np.array([delay_of(w[head], reference[head], reach) for w in waves])
        delays -= np.median(delays)
        moved = np.array([shifted(w, -d) for w, d in zip(waves, delays, strict=True)])
        reference = np.median(moved, axis=0)
    moved = np.array([shifted(w, -d) for w, d in zip(raw, delays, strict=True)])
    return moved, delays


def delay_of(wave: Floats, reference: Floats, reach: int) -> float:
    """By how many frames (a fraction) `wave` lies after `reference`, within `reach`."""
    size = 2 ** int(np.ceil(np.log2(len(wave) + reach + 1)))
    cross = np.fft.rfft(wave, size) * np.conj(np.fft.rfft(reference, size))
    lags = np.fft.irfft(cross, size * UPSAMPLED)
    reach *= UPSAMPLED
    near = np.concatenate([lags[-reach:], lags[: reach + 1]])
    top = int(np.clip(np.argmax(near), 1, len(near) - 2))
    shift, _ = summit(near, top)
    return float((top - reach + np.clip(shift, -1, 1)) / UPSAMPLED)


def shifted(wave: Floats, frames: float) -> Floats:
    """A wave moved later by a fraction of frames: the phase of its spectrum is turned."""
    size = len(wave) + 64
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)
    moved: Floats = np.fft.irfft(np.fft.rfft(wave, size) * turn, size)[: len(wave)]
    return moved


def low_cut(wave: Floats, rate: int, hz: float = LOWEST_HZ) -> Floats:
    """Without what lies below `hz` (a soft edge an octave wide): there is no click there."""
    size = 2 * len(wave)
    share = np.clip(np.log2(np.fft.rfftfreq(size, 1 / rate)[1:] / hz) + 1, 0, 1)
    edge = np.concatenate([[0.0], np.sin(np.pi / 2 * share) ** 2])
    cut: Floats = np.fft.irfft(np.fft.rfft(wave, size) * edge, size)[: len(wave)]
    return cut


def step_powers(wave: Floats, rate: int) -> Floats:
    """Mean power of steps of 2 ms."""
    step = max(1, round(STEP_S * rate))
    count = len(wave) // step
    powers: Floats = np.mean(wave[: count * step].reshape(count, step) ** 2, axis=1)
    return powers


def _noise_power(lesson: Floats, rate: int, before: int) -> float:
    quiet = lesson[: before - round(EARLY_S * rate)]
    return float(np.mean(quiet**2)) + 1e-14


def stands_out(lesson: Floats, rate: int, before: int) -> bool:
    loudest = float(np.max(step_powers(lesson[before - round(EARLY_S * rate) :], rate)))
    return loudest > _noise_power(lesson, rate, before) * 10 ** (AUDIBLE_DB / 10)


def _left_over_db(aligned: Sequence[Floats], rate: int, before: int) -> float:
    """What is left of each lesson when the average of the others is taken from it."""
    if len(aligned) == 1:
        return SINGLE_RESIDUE_DB
    cut = [low_cut(wave, rate)[before:] for wave in aligned]
    total = np.sum(cut, axis=0)
    left = energy = 0.0
    for wave in cut:
        others = (total - wave) / (len(cut) - 1)
        left += float(np.sum((wave - others) ** 2))
        energy += float(np.sum(wave**2))
    return float(np.clip(10 * np.log10(left / energy + 1e-9), BEST_RESIDUE_DB, 0.0))


def made_wave(
    mean: Floats, residue_db: float, count: int, rate: int, before: int
) -> ClickWave | None:
    """The wave with its noise weighted down; None if it starts too softly for a click.

    What is played with the click, note for note the same, might else be learned for it.  The low
    band, where rooms rumble and clicks have little, is weighted by itself.
    """
    high = low_cut(mean, rate)
    early = before - round(EARLY_S * rate)
    noise = _noise_power(high, rate, before)
    powers = step_powers(high[early:], rate)
    top = int(np.argmax(powers))
    loud = powers > powers[top] * 10 ** (QUIET_DB / 10)
    begin = int(np.argmax(powers[: top + 1] > powers[top] * 10 ** (START_DB / 10)))
    if top - begin > SHARP_S / STEP_S:
        return None
    step = max(1, round(STEP_S * rate))
    bands = (_weighted(band, rate, before) for band in (high, mean - high))
    return ClickWave(
        np.sum(list(bands), axis=0),
        early - before,
        begin * step,
        max(1, int(np.nonzero(loud)[0][-1]) + 1 - begin) * step,
        float(10 * np.log10(powers[top] + 1e-14)),
        float(10 * np.log10(noise * count)),
        residue_db,
    )


def _weighted(band: Floats, rate: int, before: int) -> Floats:
    """From shortly before the click on, weighted by the share that is not noise, ends faded."""
    noise = _noise_power(band, rate, before)
    wave = band[before - round(EARLY_S * rate) :]
    powers = step_powers(wave, rate)
    smooth = np.convolve(powers, np.ones(3) / 3, mode="same")
    share = np.clip(1 - 1.5 * noise / (np.maximum(smooth, powers) + 1e-30), 0, 1)
    top = int(np.argmax(powers))
    gone = np.nonzero(share[top:] < 0.2)[0]
    if len(gone):
        share[top + gone[0] :] = 0
    places = (np.arange(len(share)) + 0.5) * (len(wave) / len(share))
    weight = np.interp(np.arange(len(wave)), places, share)
    fade = min(len(wave) // 4, round(FADE_S * rate))
    ramp = np.sin(np.pi / 2 * (np.arange(fade) + 0.5) / fade) ** 2
    weight[-fade:] *= ramp[::-1]
    weight[: fade // 4] *= ramp[::4][: fade // 4]
    weighted: Floats = wave * weight
    return weighted
