"""The level of a signal in steps of a millisecond, and where an attack starts in it.

The start of a note is the first instant at which its own sound rises out of what was there before:
after the lowest point before the attack's peak, the first step above both that point by `RISE_DB`
and the peak less `RANGE_DB` (the annotated recordings used in development define it so).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

RANGE_DB = 30.0
RISE_DB = 3.0
SILENCE_DB = -120.0


def level_steps_db(samples: Samples, step_frames: int) -> NDArray[np.float64]:
    """RMS level in dB re full scale of each whole step; shape (len(samples) // step_frames,)."""
    count = len(samples) // step_frames
    if count == 0:
        return np.zeros(0)
    steps = samples[: count * step_frames].astype(np.float64).reshape(count, step_frames)
    power = np.mean(steps**2, axis=1)
    levels: NDArray[np.float64] = 10 * np.log10(power + 10 ** (SILENCE_DB / 10))
    return levels


def start_step(levels_db: NDArray[np.float64], guess: int, back: int, ahead: int) -> int:
    """Step at which the attack near `guess` starts, looking `back` and `ahead` steps around."""
    low = max(0, guess - back)
    window = levels_db[low : guess + ahead]
    if len(window) == 0:
        return guess
    peak = max(guess - low, 0) + int(np.argmax(window[max(guess - low, 0) :]))
    trough = int(np.argmin(window[: peak + 1]))
    floor = max(window[trough] + RISE_DB, window[peak] - RANGE_DB)
    above = np.nonzero(window[trough : peak + 1] >= floor)[0]
    return low + trough + (int(above[0]) if len(above) else 0)


def rise_steps(levels_db: NDArray[np.float64], start: int, ahead: int) -> int:
    """Steps from the start to half of the note's peak amplitude (6 dB under its peak)."""
    window = levels_db[start : start + ahead]
    if len(window) == 0:
        return 0
    return int(np.argmax(window >= window.max() - 6.0206))


def swell_of(levels_db: NDArray[np.float64], start: int, smooth: int) -> float:
    """By how many dB the level rises around `start`, periods of low notes averaged out.

    `smooth` is the averaging length in steps.  The lowest average shortly before `start` is
    compared with the highest that begins after it: negative where the sound only dies away.
    """
    power = np.concatenate([[0.0], np.cumsum(10 ** (levels_db / 10))])
    if len(power) <= smooth or start + smooth >= len(power):
        return 0.0
    means = 10 * np.log10((power[smooth:] - power[:-smooth]) / smooth + 1e-12)
    before = means[: max(1, start - smooth + 1)]
    return float(means[min(start + smooth // 2, len(means) - 1) :].max() - before.min())
