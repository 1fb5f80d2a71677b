"""Sound in the blocks of a sound card, and what aubio makes of them."""

from __future__ import annotations

import warnings
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

RATE, BLOCK, WINDOW = 48_000, 256, 2048
Samples = NDArray[np.float32]


def blocks(samples: Samples) -> Iterator[tuple[int, Samples]]:
    """(Frame, samples) of each whole block."""
    for frame in range(0, len(samples) - BLOCK + 1, BLOCK):
        yield frame, np.array(samples[frame : frame + BLOCK])


def by_aubio(samples: Samples) -> int:
    """Onsets (spectral flux) and pitches (yinfast), block by block; how many onsets."""
    import aubio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pitch = aubio.pitch("yinfast", WINDOW, BLOCK, RATE)
    onset = aubio.onset("specflux", 4 * BLOCK, BLOCK, RATE)
    found = 0
    for _, block in blocks(samples):
        pitch(block)
        found += bool(onset(block)[0])
    return found
