"""Straight lines through attacks, with an interval that allows for runs of like errors.

A player's errors follow each other: who is late on one note is often late on the next, which makes
the usual interval too narrow.  The number of notes is therefore cut to those that count as
independent, n (1 - r) / (1 + r) with r the correlation of neighbouring residuals (Santer and
others 2000, J. Geophys. Res. 105:7337), r corrected for being found too small in short series
(Kendall 1954, Biometrika 41:403).  A negative r is left alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from coach.core.profile.estimate import student_quantile

FEWEST_POINTS = 4
MOST_ALIKE = 0.9


@dataclass(frozen=True, slots=True)
class Slope:
    """The least-squares slope, its interval, and how well the line fits (`squares`: the sum of the
    squared residuals), over `count` points."""

    value: float
    low: float
    high: float
    squares: float
    count: int

    def beyond(self, limit: float) -> bool:
        """Whether the whole interval lies further from 0 than `limit` (0 or more)."""
        return self.low > limit or self.high < -limit


def slope_of(xs: Sequence[float], ys: Sequence[float], chance: float) -> Slope | None:
    """The line through (x, y), in order of time, with the interval that holds the true slope with
    this chance; None with fewer than four points or all in one place."""
    count = len(xs)
    if count < FEWEST_POINTS:
        return None
    mean_x, mean_y = fmean(xs), fmean(ys)
    across = math.fsum((x - mean_x) ** 2 for x in xs)
    if across <= 0:
        return None
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / across
    rests = [y - mean_y - slope * (x - mean_x) for x, y in zip(xs, ys, strict=True)]
    squares = math.fsum(rest * rest for rest in rests)
    freedom = max(1.0, independent(rests) - 2)
    half = student_quantile((1 + chance) / 2, freedom) * math.sqrt(squares / freedom / across)
    return Slope(slope, slope - half, slope + half, squares, count)


def independent(rests: Sequence[float]) -> float:
    """How many of these residuals, in order of time, count as independent of each other."""
    squares = math.fsum(rest * rest for rest in rests)
    if squares <= 0:
        return len(rests)
    alike = math.fsum(a * b for a, b in pairwise(rests)) / squares
    if alike <= 0:
        return len(rests)
    alike = min(MOST_ALIKE, alike + (1 + 4 * alike) / len(rests))
    return len(rests) * (1 - alike) / (1 + alike)
