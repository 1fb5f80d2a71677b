"""A closer look at one attack: which pitch sounded just before it, and in steps after it.

For stretches of sound around the attack, relative to the expected pitch: the level at every half
semitone from an octave below to four octaves above (so that all harmonics of all near pitches are
seen), and the coherence of the sound with itself one period of each candidate pitch before.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import FLOOR, RATE, Rows, Samples, scaled, sliding

LENGTH = 368
# Where each stretch of `LENGTH` frames starts, in frames from the attack; the last one is longer.
STARTS = (-416, 0, 184, 368, 552, 784)
LONG_START, LONG_LENGTH = 96, 1056
REACH = LONG_START + LONG_LENGTH
LOWEST, HIGHEST, STEP = -13.0, 48.0, 0.5
CANDIDATES = 53
GRID = int((HIGHEST - LOWEST) / STEP) + 1
STRETCHES = len(STARTS) + 1
WIDTH = GRID + CANDIDATES + 1
BACK_FRAMES = 1000
TURNS = 16


# The tuning of the player moves the pitch a little with every note: old ones hardly come back.
@lru_cache(maxsize=32)
def _waves(pitch: float) -> NDArray[np.float64]:
    """Cosines and sines at the grid above `pitch` from their middle onwards, as far as the longer
    stretch needs them; shape (2, LONG_LENGTH / 2, GRID)."""
    hz = 440.0 * 2 ** ((pitch + LOWEST + STEP * np.arange(GRID) - 69) / 12)
    turns = 2j * np.pi * hz / RATE
    # Products of a few turns: much quicker than a cosine and a sine for every place.
    coarse = np.exp(TURNS * np.arange(LONG_LENGTH // 2 // TURNS)[:, None, None] * turns)
    fine = np.exp(np.arange(TURNS)[:, None] * turns) * (hz < 0.47 * RATE)
    both = (coarse * fine).reshape(-1, GRID)
    return np.stack([both.real, both.imag])


@cache
def _window(length: int) -> NDArray[np.float64]:
    """The half of a window from its middle onwards; the window is even about the middle."""
    window = np.hanning(length + 1)[:-1]
    half: NDArray[np.float64] = window[length // 2 :] * 2 / window.sum()
    return half


@lru_cache(maxsize=32)
def _delays(pitch: float) -> NDArray[np.int64]:
    """Whole frames of one period of each candidate (fine enough to tell half semitones by their
    neighbours; the net sees all of them)."""
    hz = 440.0 * 2 ** ((pitch + LOWEST + STEP * np.arange(CANDIDATES) - 69) / 12)
    return np.round(RATE / hz).astype(int)


def patch(bank: Bank, attack_frame: int, pitch: float) -> Rows:
    """Shape (STRETCHES, WIDTH): level at the grid, coherence at the candidates, level of all."""
    low = attack_frame + STARTS[0] - BACK_FRAMES
    sound = np.ascontiguousarray(bank.part(low, attack_frame + REACH))
    sums = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=np.float64))])
    origin = attack_frame - low
    short = _stretches(sound, sums, origin + np.array(STARTS), LENGTH, pitch)
    return np.concatenate(
        [short, _stretches(sound, sums, np.array([origin + LONG_START]), LONG_LENGTH, pitch)]
    )


def _stretches(
    sound: Samples, sums: NDArray[np.float64], starts: NDArray[np.int64], length: int, pitch: float
) -> Rows:
    """Rows of the patch for stretches of one length; `sums` are the running sums of squares."""
    every = sliding(sound, (len(sound) - length + 1, length), (1, 1))
    here = every[starts]
    power = sums[starts + length] - sums[starts]
    before = np.maximum(starts[:, None] - _delays(pitch), 0)
    joint = (every[before] @ here[:, :, None])[:, :, 0]
    powers = np.sqrt(power[:, None] * (sums[before + length] - sums[before]))
    rows = np.empty((len(starts), WIDTH), np.float32)
    rows[:, :GRID] = scaled(10 * np.log10(_grid_powers(here, pitch) + FLOOR))
    rows[:, GRID:-1] = joint / (powers + length * FLOOR)
    rows[:, -1] = scaled(10 * np.log10(power / length + FLOOR))
    return rows


def _grid_powers(here: Samples, pitch: float) -> NDArray[np.float64]:
    """Power of each stretch at the grid above `pitch`; shape (stretches, GRID)."""
    middle = here.shape[1] // 2
    after, before = here[:, middle:].astype(np.float64), here[:, middle:0:-1]
    folded = np.stack([after + before, after - before])
    # The middle itself has no partner.
    folded[0, :, 0] /= 2
    folded *= _window(here.shape[1])
    parts = folded @ _waves(pitch)[:, :middle]
    power: NDArray[np.float64] = (parts * parts).sum(axis=0)
    return power
