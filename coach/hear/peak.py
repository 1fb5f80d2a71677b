"""Where a peak lies between the values around it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def summit(values: NDArray[np.float64], top: int) -> tuple[float, float]:
    """How far after index `top` the peak lies (before: negative), and its height: by the parabola
    through three values; the value itself at either end."""
    if top in (0, len(values) - 1):
        return 0.0, float(values[top])
    left, middle, right = values[top - 1 : top + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend else 0.0
    return float(shift), float(middle - 0.25 * (left - right) * shift)
