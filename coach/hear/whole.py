"""Sound as the ears can take it.  A broken driver may send what is no number, or numbers beyond all
sound; one of them would stay in every sum and filter after it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from coach.core.take import Gap

Samples = NDArray[np.float32]

# 120 dB over full scale; the squares of such samples can still be added up and multiplied.
LOUDEST = 1e6
# 200 dB under full scale, less than the last of 32 bits.  Sums and products of what is far fainter
# take processors ten times as long (denormal numbers).
FAINTEST = 1e-10
# Sound is lost in whole steps of this, counted from frame 0: thousands of single samples that are
# no numbers are few gaps.
STEP_S = 0.01


def is_whole(samples: Samples) -> bool:
    """Whether all samples, float32 (n,), are numbers that can be sound."""
    return bool(np.abs(samples).max(initial=0.0) <= LOUDEST)


def whole(frame: int, samples: Samples, rate: int) -> tuple[Samples, tuple[Gap, ...]]:
    """The samples, float32 (n,) from `frame` on, with silence for those that are no sound, and the
    gaps around these; what is too faint to be heard is silence as well."""
    sizes = np.abs(samples)
    if sizes.max(initial=0.0) <= LOUDEST:
        return samples * (sizes >= FAINTEST), ()
    good = (sizes >= FAINTEST) & (sizes <= LOUDEST)
    step = max(1, round(STEP_S * rate))
    steps = np.unique((frame + np.flatnonzero(~(sizes <= LOUDEST))) // step)
    return np.where(good, samples, np.float32(0)), _gaps(steps, step)


def _gaps(steps: NDArray[np.int64], step: int) -> tuple[Gap, ...]:
    """Steps in a row are one gap."""
    ends = np.flatnonzero(np.diff(steps) > 1) + 1
    parts = [steps[a:b] for a, b in pairwise([0, *ends.tolist(), len(steps)])]
    return tuple(Gap(int(p[0]) * step, (int(p[-1]) + 1 - int(p[0])) * step) for p in parts)
