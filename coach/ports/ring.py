"""A ring of output samples that is written ahead of the play head, and over, at any frame."""

from __future__ import annotations

import numpy as np

from coach.ports.channels import mono, stereo
from coach.ports.click import Samples


def ring_length(wanted_frames: float) -> int:
    """The power of two at or above the wanted length (the C ring needs one)."""
    return 1 << max(0, int(np.ceil(np.log2(wanted_frames))))


def store_wrapped(ring: Samples, frame: int, samples: Samples) -> None:
    """Write samples at `frame` into a ring of shape (frames, channels): mono into all channels
    alike; stereo into the first two, into the only one their mean."""
    size, channels = ring.shape
    start = frame % size
    first = min(len(samples), size - start)
    sides = _sides(samples, channels)
    ring[start : start + first] = sides[:first]
    ring[: len(samples) - first] = sides[first:]


def _sides(samples: Samples, channels: int) -> Samples:
    """(n, channels), or (n, 1) for all alike."""
    if samples.ndim == 1 or channels == 1:
        return mono(samples)[:, None]
    if channels == 2:
        return stereo(samples)
    # Whatever lay in further channels before must not sound again.
    return np.pad(stereo(samples), ((0, 0), (0, channels - 2)))


def copy_wrapped(ring: Samples, frame: int, out: Samples) -> None:
    """Copy len(out) frames of the ring, from `frame`, into `out` of the same channels."""
    size = len(ring)
    start = frame % size
    first = min(len(out), size - start)
    out[:first] = ring[start : start + first]
    out[first:] = ring[: len(out) - first]
