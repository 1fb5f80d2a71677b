"""Other tests that might settle a trial, with numpy and scipy: what ours is measured against.

Each takes the differences of the pairs so far (radians, stabilised) and answers after each pair.
The classical boundaries are for normal sums with equal steps; they are carried over to small
samples by taking the quantile of t at the same level (the significance level approach: Jennison and
Turnbull 2000, Group Sequential Methods, chapter 4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

FIRST_LOOK = 4


def crossing_chance(bounds: np.ndarray, two_sided: bool) -> float:
    """The chance that a walk of standard normal steps leaves `bounds` (one a look, as z) at any
    look: the recursion of Armitage, McPherson and Rowe 1969 (J. R. Statist. Soc. A 132:235)."""
    grid = np.linspace(-8, 8, 801) * math.sqrt(len(bounds))
    width = grid[1] - grid[0]
    kernel = stats.norm.pdf(np.arange(-400, 401) * width)
    density, crossed = stats.norm.pdf(grid), 0.0
    for look, bound in enumerate(bounds, 1):
        if look > 1:
            density = np.convolve(density, kernel, mode="same") * width
        edge = bound * math.sqrt(look)
        # A cell that the edge cuts counts by its part outside.
        outside = np.clip((np.abs(grid) if two_sided else grid) - edge, -width / 2, width / 2)
        weight = outside / width + 0.5
        crossed += float(np.sum(density * weight) * width)
        density = density * (1 - weight)
    return crossed


def shaped_bounds(
    looks: int, share: float, shape: float, *, two_sided: bool = True, first: int = 1
) -> np.ndarray:
    """Boundaries c (k/K)^(shape - 1/2): shape 1/2 is Pocock's, 0 that of O'Brien and Fleming,
    between them Wang and Tsiatis 1987 (Biometrics 43:193).  None before look `first`."""
    fractions = np.arange(1, looks + 1) / looks
    form = fractions ** (shape - 0.5)
    form[: first - 1] = np.inf

    def excess(c: float) -> float:
        return crossing_chance(np.where(np.isinf(form), 50.0, c * form), two_sided) - share

    return optimize.brentq(excess, 0.5, 6.0, xtol=1e-4) * form


@dataclass
class Shaped:
    """Group-sequential t, looking after every pair, with one-sided t against the difference that
    matters for "even"."""

    looks: int
    shape: float
    share: float = 0.05
    hidden: float = 0.1

    def __post_init__(self) -> None:
        ways = ((self.share, True), (self.hidden, False))
        self._levels = [
            stats.norm.sf(
                shaped_bounds(self.looks, share, self.shape, two_sided=two, first=FIRST_LOOK)
            )
            for share, two in ways
        ]

    def answer(self, rad: np.ndarray, matters: np.ndarray) -> tuple[str, int]:
        """ "a", "b", "even" or "open", and after how many pairs; inputs of shape (looks,)."""
        count = np.arange(1, self.looks + 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = np.cumsum(rad) / count
            spread = np.sqrt((np.cumsum(rad**2) - count * mean**2) / (count - 1))
            error = spread / np.sqrt(count)
            level, hidden = self._levels
            two = stats.t.isf(level, count - 1) * error
            one = stats.t.isf(hidden, count - 1) * error
        cleaner = np.abs(mean) > two
        even = np.abs(mean) + one < np.cumsum(matters) / count
        for k in range(FIRST_LOOK - 1, self.looks):
            if cleaner[k]:
                return ("a" if mean[k] > 0 else "b"), k + 1
            if even[k]:
                return "even", k + 1
        return "open", self.looks


@dataclass
class RatioT:
    """The sequential probability ratio t test (Hajnal 1961, Biometrika 48:65), truncated.

    Equal ways against a standardised difference of `effect` either way: the ratio of the
    densities of t squared, noncentral against central F, between Wald's limits.
    """

    looks: int
    effect: float
    share: float = 0.05
    hidden: float = 0.2

    def answer(self, rad: np.ndarray, matters: np.ndarray) -> tuple[str, int]:
        del matters
        high, low = (1 - self.hidden) / self.share, self.hidden / (1 - self.share)
        for n in range(FIRST_LOOK, self.looks + 1):
            spread = rad[:n].std(ddof=1)
            mean = float(rad[:n].mean())
            if spread < 1e-9:
                continue
            square = max(n * (mean / spread) ** 2, 1e-9)
            under = stats.f.pdf(square, 1, n - 1)
            ratio = stats.ncf.pdf(square, 1, n - 1, n * self.effect**2) / under
            if ratio >= high:
                return ("a" if mean > 0 else "b"), n
            if ratio <= low:
                return "even", n
        return "open", self.looks


def fixed_pairs(effect: float, power: float, share: float = 0.05) -> float:
    """How many pairs a paired t-test of one look needs (noncentral t; between whole numbers by a
    straight line), for a standardised difference of `effect`."""

    def reached(n: int) -> float:
        edge = stats.t.isf(share / 2, n - 1)
        away = effect * math.sqrt(n)
        return float(stats.nct.sf(edge, n - 1, away) + stats.nct.cdf(-edge, n - 1, away))

    n = 2
    while reached(n) < power:
        n += 1
    if n == 2:
        return 2.0
    before, here = reached(n - 1), reached(n)
    return n - 1 + (power - before) / (here - before)
