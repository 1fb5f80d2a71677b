"""A ring of output samples that is written ahead of the play head, and over, at any frame."""

from __future__ import annotations

import numpy as np

from coach.ports.click import Samples


def ring_length(wanted_frames: float) -> int:
    """The power of two at or above the wanted length (the C ring needs one)."""
    return 1 << max(0, int(np.ceil(np.log2(wanted_frames))))


def store_wrapped(ring: Samples, frame: int, samples: Samples) -> None:
    """Write mono samples at `frame` into a ring of shape (frames, channels), all channels alike."""
    size = len(ring)
    start = frame % size
    first = min(len(samples), size - start)
    ring[start : start + first] = samples[:first, None]
    ring[: len(samples) - first] = samples[first:, None]


def copy_wrapped(ring: Samples, frame: int, out: Samples) -> None:
    """Copy len(out) frames of the ring, from `frame`, into `out` of the same channels."""
    size = len(ring)
    start = frame % size
    first = min(len(out), size - start)
    out[:first] = ring[start : start + first]
    out[first:] = ring[: len(out) - first]
