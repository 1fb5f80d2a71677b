"""A closer look at one attack: which pitch sounded just before it, and in steps after it.

For stretches of sound around the attack, relative to the expected pitch: the level at every half
semitone from an octave below to four octaves above (so that all harmonics of all near pitches are
seen), and the coherence of the sound with itself one period of each candidate pitch before.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import FLOOR, RATE, Rows, Samples, scaled

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


@lru_cache(maxsize=256)
def _filters(pitch: float, length: int) -> Samples:
    """Cosines and sines at the grid above `pitch`; (length, 2 * GRID)."""
    hz = 440.0 * 2 ** ((pitch + LOWEST + STEP * np.arange(GRID) - 69) / 12)
    angles = 2 * np.pi * np.arange(length)[:, None] / RATE * hz[None, :]
    window = np.hanning(length + 1)[:-1, None]
    audible = (hz < 0.47 * RATE)[None, :]
    both = np.concatenate([np.cos(angles) * audible, np.sin(angles) * audible], axis=1)
    filters: Samples = (both * window * 2 / window.sum()).astype(np.float32)
    return filters


@lru_cache(maxsize=256)
def _delays(pitch: float) -> NDArray[np.int64]:
    """Whole frames of one period of each candidate (fine enough to tell half semitones by their
    neighbours; the net sees all of them)."""
    hz = 440.0 * 2 ** ((pitch + LOWEST + STEP * np.arange(CANDIDATES) - 69) / 12)
    return np.round(RATE / hz).astype(int)


def patch(bank: Bank, attack_frame: int, pitch: float) -> Rows:
    """Shape (STRETCHES, WIDTH): level at the grid, coherence at the candidates, level of all."""
    low = attack_frame + STARTS[0] - BACK_FRAMES
    sound = bank.part(low, attack_frame + REACH)
    origin = attack_frame - low
    starts = [(origin + s, LENGTH) for s in STARTS] + [(origin + LONG_START, LONG_LENGTH)]
    return np.stack([_stretch(sound, start, length, pitch) for start, length in starts])


def _stretch(sound: Samples, start: int, length: int, pitch: float) -> Rows:
    here = sound[start : start + length]
    parts = here @ _filters(pitch, length)
    levels = scaled(10 * np.log10(parts[:GRID] ** 2 + parts[GRID:] ** 2 + FLOOR))
    places = np.arange(start, start + length)[None, :] - _delays(pitch)[:, None]
    before = sound[places]
    joint = before @ here
    power = float(here @ here)
    powers = np.sqrt(power * np.einsum("ij,ij->i", before, before))
    coherence = joint / (powers + length * FLOOR)
    level = scaled(np.array([10 * np.log10(power / length + FLOOR)]))
    return np.concatenate([levels, coherence.astype(np.float32), level])
