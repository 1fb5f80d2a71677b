"""Estimates with intervals: shares by a beta posterior, means by a normal one, both with a prior.

Counts need not be whole: notes of earlier days weigh less.  Notes count as independent of each
other; those of one take are so only nearly, so an interval from a single take is a little narrow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

# How sure an interval is, as much left out below as above.
INTERVAL = 0.9
Z = NormalDist().inv_cdf((1 + INTERVAL) / 2)
SMALL = 1e-12
MOST_STEPS = 200


@dataclass(frozen=True, slots=True)
class Estimate:
    """What is believed: `value`, and where it lies with the probability `INTERVAL`.

    `count` is the evidence (notes or takes, those of today in full, older ones in part), `measured`
    how much of the value comes from it: 0 is the prior alone, 1 the evidence alone.
    """

    value: float
    low: float
    high: float
    count: float = 0.0
    measured: float = 0.0

    def to_dict(self) -> dict[str, Any]:
        return {
            "value": round(self.value, 4),
            "low": round(self.low, 4),
            "high": round(self.high, 4),
            "count": round(self.count, 2),
            "measured": round(self.measured, 3),
        }


@dataclass(frozen=True, slots=True)
class Sums:
    """Weighted counts: of `count` notes `clean` were clean; `values` have a value, with their sum
    and sum of squares."""

    count: float = 0.0
    clean: float = 0.0
    values: float = 0.0
    total: float = 0.0
    squares: float = 0.0

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            self.count + other.count,
            self.clean + other.clean,
            self.values + other.values,
            self.total + other.total,
            self.squares + other.squares,
        )


@dataclass(frozen=True, slots=True)
class SharePrior:
    """A beta prior: a share, worth as much as so many notes."""

    share: float
    notes: float


@dataclass(frozen=True, slots=True)
class MeanPrior:
    """A normal prior of a mean, and what single values are expected to spread by (standard
    deviation), which is worth as much as `NOISE_NOTES` values."""

    mean: float
    sd: float
    noise_sd: float


NOISE_NOTES = 4.0


def share_estimate(sums: Sums, prior: SharePrior) -> Estimate:
    """The share of clean notes: the mean of the beta posterior, and its quantiles."""
    clean = prior.share * prior.notes + sums.clean
    faults = (1 - prior.share) * prior.notes + max(0.0, sums.count - sums.clean)
    return Estimate(
        clean / (clean + faults),
        beta_quantile((1 - INTERVAL) / 2, clean, faults),
        beta_quantile((1 + INTERVAL) / 2, clean, faults),
        sums.count,
        sums.count / (sums.count + prior.notes),
    )


def mean_estimate(sums: Sums, prior: MeanPrior) -> Estimate:
    """The mean of the values: a normal posterior in which the spread of single values is estimated
    too, so that the interval is Student's (Gelman and others, Bayesian Data Analysis, 3.2)."""
    if sums.values <= 0:
        half = Z * prior.sd
        return Estimate(prior.mean, prior.mean - half, prior.mean + half)
    mean = sums.total / sums.values
    apart = max(0.0, sums.squares - sums.values * mean * mean)
    freedom = NOISE_NOTES + max(0.0, sums.values - 1)
    variance = (NOISE_NOTES * prior.noise_sd**2 + apart) / freedom
    told = sums.values / variance
    measured = told / (told + 1 / prior.sd**2)
    value = prior.mean + measured * (mean - prior.mean)
    half = student_quantile((1 + INTERVAL) / 2, freedom) / math.sqrt(told + 1 / prior.sd**2)
    return Estimate(value, value - half, value + half, sums.values, measured)


def difference(one: Estimate, other: Estimate) -> Estimate:
    """`one` less `other`, both near enough normal and independent; as well known as the less known
    of them."""
    value = one.value - other.value
    return Estimate(
        value,
        value - math.hypot(one.value - one.low, other.high - other.value),
        value + math.hypot(one.high - one.value, other.value - other.low),
        min(one.count, other.count),
        min(one.measured, other.measured),
    )


def student_quantile(chance: float, freedom: float) -> float:
    """The quantile of Student's distribution for a chance above 1/2, through the beta distribution
    (Abramowitz and Stegun 26.7.1 and 26.5.27)."""
    x = beta_quantile(2 * (1 - chance), freedom / 2, 0.5)
    return math.sqrt(freedom * (1 - x) / x)


def beta_quantile(chance: float, a: float, b: float) -> float:
    """The share below which a Beta(a, b) lies with this chance: Newton's steps, halving where they
    leave the bracket."""
    low, high = 0.0, 1.0
    x = a / (a + b)
    for _ in range(MOST_STEPS):
        excess = beta_cdf(x, a, b) - chance
        low, high = (low, x) if excess > 0 else (x, high)
        density = math.exp(_log_density(x, a, b)) if 0 < x < 1 else 0.0
        newton = x - excess / density if density > 0 else -1.0
        stepped = newton if low < newton < high else (low + high) / 2
        if abs(stepped - x) < 1e-9:
            break
        x = stepped
    return x


def beta_cdf(x: float, a: float, b: float) -> float:
    """The regularized incomplete beta function I_x(a, b), by its continued fraction (DLMF
    8.17.22), from the side on which that converges quickly."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_cdf(1 - x, b, a)
    return math.exp(_log_density(x, a, b)) * x * (1 - x) / a / _fraction(x, a, b)


def _log_density(x: float, a: float, b: float) -> float:
    norm = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return norm + (a - 1) * math.log(x) + (b - 1) * math.log1p(-x)


def _fraction(x: float, a: float, b: float) -> float:
    """1 + d1 / (1 + d2 / (1 + ...)) by Lentz's method (DLMF 3.10)."""
    value = upper = 1.0
    lower = 0.0
    for step in range(1, MOST_STEPS):
        d = _coefficient(step, x, a, b)
        lower = 1 / (_apart_from_zero(1 + d * lower))
        upper = _apart_from_zero(1 + d / upper)
        value *= upper * lower
        if abs(upper * lower - 1) < SMALL:
            break
    return value


def _coefficient(step: int, x: float, a: float, b: float) -> float:
    m, odd = divmod(step, 2)
    if odd:
        return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
    return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))


def _apart_from_zero(value: float) -> float:
    return value if abs(value) > 1e-300 else 1e-300
