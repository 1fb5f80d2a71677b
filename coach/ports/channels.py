"""Sound that is mono, (n,), or stereo, (n, 2) left and right: from one shape to the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coach.ports.click import Samples


def stereo(samples: Samples) -> Samples:
    """(n, 2): mono sounds alike on both sides."""
    if samples.ndim == 2:
        return samples
    # Each side in one piece: sides are added up far quicker so.
    return np.stack([samples, samples]).T


def mono(samples: Samples) -> Samples:
    """(n,): the mean of the sides, which is never louder than the louder of them."""
    if samples.ndim == 1:
        return samples
    mean: Samples = np.float32(0.5) * (samples[:, 0] + samples[:, 1])
    return mean


def alike(parts: Sequence[Samples]) -> list[Samples]:
    """All mono if all are, else all stereo."""
    wide = any(part.ndim == 2 for part in parts)
    return [stereo(part) for part in parts] if wide else list(parts)
