"""How many notes a second the player can keep up with a stroke: the rate at which the share of
clean notes falls to `TARGET`.

The share falls along the curves of `core/pace/belief`: logistic in the log of the rate, with a
lapse, the share of notes that go wrong at any rate.  Weights stand on a grid over limit, width and
lapse, begin with a prior and are multiplied with the binomial likelihood of each bin of rates
(Kontsevich and Tyler 1999, Vision Res. 39:2729), so that bins far under the limit, all clean, say
that it lies above, and nothing more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate

from coach.core.pace.belief import Curve
from coach.core.profile.estimate import INTERVAL, Estimate, Sums, Z

TARGET = 0.9
CELL_LN = 0.01
LOWEST_HZ, HIGHEST_HZ = 2.0, 30.0
# What is believed before: 8 notes a second for students' single tonguing (configs/tonguing.toml);
# the others, and how far players differ, are assumptions, no source.
PRIOR_HZ = {"single": 8.0, "double": 10.0, "triple": 10.0, "slurred": 10.0}
PRIOR_SD_LN = 0.35
# From 90 % to 50 % clean within 4 to 45 % of the rate; so close together that one fits.
WIDTHS_LN = (0.02, 0.03, 0.045, 0.065, 0.09, 0.13, 0.18)
LAPSES = (0.005, 0.02, 0.045)
# Nobody's share falls exactly along such a curve: a normal curve in its place moves the limit by
# 0.8 % (standard deviation over 60 simulated players, ten bins of 1000 notes each).
MISFIT_SD_LN = 0.008
_CELLS = math.ceil(math.log(HIGHEST_HZ / LOWEST_HZ) / CELL_LN)


def limit_estimate(stroke: str, bins: Sequence[Sums]) -> Estimate:
    """In notes a second; the values of each bin are its rates.  `measured` is by how much the
    evidence has narrowed the prior (of its variance)."""
    prior = _prior(PRIOR_HZ[stroke])
    seen = [each for each in bins if each.values > 0 and each.count > 0]
    logs = [math.log(w) + fitted for w, fitted in zip(prior, _fitted(seen), strict=True)]
    best = max(logs)
    weights = _normed([math.exp(log - best) for log in logs])
    mean, variance = _moments(weights)
    low, high = (_quantile(weights, (1 + side * INTERVAL) / 2) for side in (-1, 1))
    misfit = Z * MISFIT_SD_LN if seen else 0.0
    return Estimate(
        math.exp(mean),
        math.exp(mean - math.hypot(mean - low, misfit)),
        math.exp(mean + math.hypot(high - mean, misfit)),
        sum(each.count for each in seen),
        max(0.0, 1 - variance / _moments(prior)[1]) if seen else 0.0,
    )


def _prior(guess_hz: float) -> list[float]:
    offs = ((_ln(k) - math.log(guess_hz)) / PRIOR_SD_LN for k in range(_CELLS))
    return _normed([math.exp(-0.5 * off * off) for off in offs])


def _fitted(bins: Sequence[Sums]) -> list[float]:
    """The log likelihood of each limit, the curves averaged."""
    by_curve = [_along(width_ln, lapse, bins) for width_ln in WIDTHS_LN for lapse in LAPSES]
    best = max(map(max, by_curve))
    return [
        best + math.log(max(sum(math.exp(log - best) for log in cell), 1e-300))
        for cell in zip(*by_curve, strict=True)
    ]


def _along(width_ln: float, lapse: float, bins: Sequence[Sums]) -> list[float]:
    clean_logs, fault_logs = _logs(width_ln, lapse)
    found = [0.0] * _CELLS
    for each in bins:
        clean, faults = each.clean, max(0.0, each.count - each.clean)
        place = (math.log(each.total / each.values) - _ln(0)) / CELL_LN
        cell = min(max(math.floor(place), 0), _CELLS - 2)
        part = min(max(place - cell, 0.0), 1.0)
        # A limit in cell k lies k cells up: the rate is `place` - k over it.
        for share, first in ((1 - part, cell), (part, cell + 1)):
            seen = slice(first, first + _CELLS)
            found = [
                log + share * (clean * one + faults * other)
                for log, one, other in zip(
                    found, clean_logs[seen][::-1], fault_logs[seen][::-1], strict=True
                )
            ]
    return found


@lru_cache(maxsize=len(WIDTHS_LN) * len(LAPSES))
def _logs(width_ln: float, lapse: float) -> tuple[list[float], list[float]]:
    """The logs of the clean share and of the rest, from `_CELLS` - 1 cells under the limit to as
    many above."""
    curve = Curve(width_ln, lapse)
    shares = [curve.share(k * CELL_LN, TARGET) for k in range(1 - _CELLS, _CELLS)]
    return [math.log(share) for share in shares], [math.log1p(-share) for share in shares]


def _ln(cell: int) -> float:
    return math.log(LOWEST_HZ) + cell * CELL_LN


def _normed(weights: Sequence[float]) -> list[float]:
    total = math.fsum(weights)
    return [weight / total for weight in weights]


def _moments(weights: Sequence[float]) -> tuple[float, float]:
    """Mean and variance in log notes a second."""
    mean = math.fsum(w * _ln(k) for k, w in enumerate(weights))
    return mean, math.fsum(w * (_ln(k) - mean) ** 2 for k, w in enumerate(weights))


def _quantile(weights: Sequence[float], chance: float) -> float:
    """In log notes a second."""
    before = 0.0
    for k, total in enumerate(accumulate(weights)):
        if total >= chance:
            return _ln(k) + ((chance - before) / (total - before) - 0.5) * CELL_LN
        before = total
    return math.log(HIGHEST_HZ)
