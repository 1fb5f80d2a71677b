"""What is believed about a player's ceiling: weights over log tempo and a few curves.

The *ceiling* is the tempo at which the share of clean notes that can be expected equals the share
that the gate asks for (`target`).  Above it the share falls along a `Curve`, a logistic function of
log tempo.  A take of n notes has a beta-binomial count of clean ones, for the notes of a take are
not independent: a bad breath or a stiff tongue spoils several.  One take in `SPOILT_TAKES` says
nothing (the player broke off, laughed, lost the place): then every count is as likely.

The figures below are assumptions, no source: no published data give the clean share of brass
players over tempo.  The curves are spread so wide that one of them fits; a posterior over threshold
and slope together is Kontsevich and Tyler (1999), Vision Res. 39:2729.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from math import lgamma
from operator import mul

CELL_LN = 0.01
# Tempi are taken to the next so-manieth of a cell, an eighth of a per cent off at most, so that
# what a take tells is worked out once for many takes.
PARTS = 4
# Weights that not even seven takes in a row could bring back (see `SPOILT_TAKES`).
TINY = 1e-12
# Correlation of two notes of one take: of 32 notes, the count varies 1.4 times as far as chance.
NOTES_ALIKE = 0.035
SPOILT_TAKES = 0.03
# A target nearer to 1 has no tempo: nobody plays every note clean for ever.
HIGHEST_TARGET = 0.97
LOWEST_SHARE = 0.02
# Of the two parameters of the beta-binomial.
_TOTAL = 1 / NOTES_ALIKE - 1


@dataclass(frozen=True, slots=True)
class Curve:
    """How the clean share falls: `width_ln` is the scale of the logistic in log tempo, `lapse` the
    share of notes that go wrong at any tempo (never more than half of what the target allows)."""

    width_ln: float
    lapse: float

    def share(self, above_ln: float, target: float) -> float:
        """The clean share at `above_ln` over the ceiling (in log tempo); `target` at 0."""
        highest, at_ceiling = _top(self.lapse, target)
        falls = min(above_ln / self.width_ln + at_ceiling, 500.0)
        return max(LOWEST_SHARE, highest / (1 + math.exp(falls)))


@lru_cache(maxsize=64)
def _top(lapse: float, target: float) -> tuple[float, float]:
    """The share far below the ceiling, and the logistic's argument at the ceiling."""
    highest = 1 - min(lapse, (1 - target) / 2)
    return highest, math.log(highest / target - 1)


# From 90 % to 50 % clean within 10, 19 and 35 % of tempo.
CURVES = (Curve(0.04, 0.01), Curve(0.075, 0.01), Curve(0.13, 0.01))
CURVE_WEIGHTS = (0.25, 0.5, 0.25)


@lru_cache(maxsize=1024)
def _ways_ln(clean: int, counted: int) -> float:
    """What of a beta-binomial chance does not depend on the share."""
    ways = lgamma(counted + 1) - lgamma(clean + 1) - lgamma(counted - clean + 1)
    return ways + lgamma(_TOTAL) - lgamma(counted + _TOTAL)


def pass_chance(share: float, need: int, counted: int) -> float:
    """The chance of at least `need` clean notes among `counted`; from all clean downwards."""
    a, b = share * _TOTAL, (1 - share) * _TOTAL
    term = math.exp(lgamma(counted + a) - lgamma(a) + lgamma(_TOTAL) - lgamma(counted + _TOTAL))
    found = 0.0
    for clean in range(counted, need - 1, -1):
        found += term
        term *= clean * (b + counted - clean) / ((counted - clean + 1) * (a + clean - 1))
    blind = (counted - need + 1) / (counted + 1)
    return (1 - SPOILT_TAKES) * min(1.0, found) + SPOILT_TAKES * blind


@lru_cache(maxsize=1024)
def _take_chances(
    curve: Curve, target: float, clean: int, counted: int, part: int, cells: int
) -> tuple[float, ...]:
    """The chance of `clean` clean notes among `counted`, from `cells` cells under the ceiling to
    `cells` above, `part` of a cell over each."""
    ways = _ways_ln(clean, counted)
    blind = SPOILT_TAKES / (counted + 1)
    return tuple(
        (1 - SPOILT_TAKES) * math.exp(lgamma(clean + a) + lgamma(counted - clean + b) + ways - none)
        + blind
        for a, b, none in _parameters(curve, target, part, cells)
    )


@lru_cache(maxsize=64)
def _parameters(
    curve: Curve, target: float, part: int, cells: int
) -> tuple[tuple[float, float, float], ...]:
    """The two of the beta-binomial at these places, and what of its chance hangs on them alone."""
    shares = (curve.share((k + part / PARTS) * CELL_LN, target) for k in range(-cells, cells + 1))
    pairs = ((share * _TOTAL, (1 - share) * _TOTAL) for share in shares)
    return tuple((a, b, lgamma(a) + lgamma(b)) for a, b in pairs)


@lru_cache(maxsize=64)
def _pass_chances(
    curve: Curve, target: float, need: int, counted: int, cells: int
) -> tuple[float, ...]:
    """`pass_chance` from `cells` cells under the ceiling to `cells` above."""
    return tuple(
        pass_chance(curve.share(k * CELL_LN, target), need, counted)
        for k in range(-cells, cells + 1)
    )


@dataclass(frozen=True, slots=True)
class Belief:
    """Weights that sum to 1: `weights[c][k]` for curve `CURVES[c]` and a ceiling of
    exp(lowest_ln + k * CELL_LN) clicks a minute; `target` is the clean share at the ceiling."""

    lowest_ln: float
    target: float
    weights: tuple[tuple[float, ...], ...]

    # -- what is believed -----------------------------------------------------------------------

    @property
    def marginal(self) -> tuple[float, ...]:
        """The weight of each ceiling, whatever the curve."""
        return tuple(map(sum, zip(*self.weights, strict=True)))

    @property
    def mean_ln(self) -> float:
        mean_cells = sum(k * weight for k, weight in enumerate(self.marginal))
        return self.lowest_ln + CELL_LN * mean_cells

    @property
    def estimate_bpm(self) -> float:
        return math.exp(self.mean_ln)

    @property
    def sd_percent(self) -> float:
        """Standard deviation of the log ceiling, in hundredths: near enough a per cent of tempo."""
        mean = (self.mean_ln - self.lowest_ln) / CELL_LN
        variance = sum((k - mean) ** 2 * weight for k, weight in enumerate(self.marginal))
        return 100 * CELL_LN * math.sqrt(variance)

    def quantile_bpm(self, share: float) -> float:
        """The tempo under which the ceiling lies with this probability."""
        before = 0.0
        for k, total in enumerate(accumulate(self.marginal)):
            if total >= share:
                inside = (share - before) / (total - before) - 0.5
                return math.exp(self.lowest_ln + (k + inside) * CELL_LN)
            before = total
        return math.exp(self.lowest_ln + len(self.weights[0]) * CELL_LN)

    def interval_bpm(self, share: float = 0.9) -> tuple[float, float]:
        """Where the ceiling lies with this probability, as much left out below as above."""
        return self.quantile_bpm((1 - share) / 2), self.quantile_bpm((1 + share) / 2)

    def chance(self, tempo_bpm: float, need: int, counted: int) -> float:
        """The chance that a take at this tempo has `need` clean notes of `counted`."""
        place = (math.log(tempo_bpm) - self.lowest_ln) / CELL_LN
        cell = min(max(math.floor(place), 0), len(self.weights[0]) - 2)
        part = min(max(place - cell, 0.0), 1.0)
        lower = self._chance_at(cell, need, counted)
        return lower + part * (self._chance_at(cell + 1, need, counted) - lower)

    def _chance_at(self, cell: int, need: int, counted: int) -> float:
        cells = len(self.weights[0])
        found = 0.0
        for curve, row in zip(CURVES, self.weights, strict=True):
            chances = _pass_chances(curve, self.target, need, counted, cells)
            # A ceiling in cell k lies k cells up: the tempo is cell - k over it.
            seen = chances[cell + 1 : cell + 1 + cells]
            found += sum(map(mul, row, reversed(seen)))
        return found

    def highest_bpm(self, chance: float, need: int, counted: int) -> float:
        """The highest tempo at which a take passes with at least this chance."""
        low, high = 0, len(self.weights[0])
        while high - low > 1:
            middle = (low + high) // 2
            good = self._chance_at(middle, need, counted) >= chance
            low, high = (middle, high) if good else (low, middle)
        return math.exp(self.lowest_ln + low * CELL_LN)

    # -- how it changes -------------------------------------------------------------------------

    def after_take(self, tempo_bpm: float, clean: int, counted: int) -> Belief:
        """Bayes' rule for one take with `clean` of `counted` notes clean."""
        cells = len(self.weights[0])
        place = round((math.log(tempo_bpm) - self.lowest_ln) / CELL_LN * PARTS)
        # What lies beyond the cells on either side tells nothing about which of them it is.
        cell, part = divmod(min(max(place, -PARTS), cells * PARTS), PARTS)
        rows = []
        for curve, row in zip(CURVES, self.weights, strict=True):
            chances = _take_chances(curve, self.target, clean, counted, part, cells)
            # A ceiling in cell k lies k cells up: the tempo is cell - k over it.
            seen = chances[cell + 1 : cell + 1 + cells]
            rows.append(list(map(mul, row, reversed(seen))))
        return self._of(rows)

    def drifted(self, up_ln: float, sd_ln: float) -> Belief:
        """The ceiling has moved by a normal step of this mean and spread."""
        rows = (_moved(row, up_ln / CELL_LN, sd_ln / CELL_LN) for row in self.weights)
        return replace(self, weights=tuple(map(tuple, rows)))

    def mixed(self, other: Belief, share: float) -> Belief:
        """This belief with a share of another on the same cells."""
        rows = zip(self.weights, other.weights, strict=True)
        return self._of(
            [[(1 - share) * a + share * b for a, b in zip(*two, strict=True)] for two in rows]
        )

    def _of(self, rows: list[list[float]]) -> Belief:
        scale = 1 / sum(map(sum, rows))
        return replace(self, weights=tuple(tuple([w * scale for w in row]) for row in rows))


def _moved(row: tuple[float, ...], up_cells: float, sd_cells: float) -> list[float]:
    """A row spread by a normal kernel; what would leave it stays in its last cell."""
    kernel, last = _kernel(up_cells, sd_cells), len(row) - 1
    reach = len(kernel) // 2
    there = [k for k, weight in enumerate(row) if weight > TINY]
    if not there:
        return list(row)
    first, end = there[0], there[-1] + 1
    around = [0.0] * (2 * reach)
    padded = [*around, *row[first:end], *around]
    count = len(kernel)
    spread = [sum(map(mul, kernel, padded[k : k + count])) for k in range(end - first + 2 * reach)]
    moved = [*([0.0] * first), *spread, *([0.0] * (len(row) - end))]
    moved[reach] += sum(moved[:reach])
    moved[reach + last] += sum(moved[reach + last + 1 :])
    return moved[reach : reach + last + 1]


@lru_cache(maxsize=64)
def _kernel(up_cells: float, sd_cells: float) -> tuple[float, ...]:
    """Where the weight of a cell comes from, the highest first."""
    reach = math.ceil(abs(up_cells) + 4 * sd_cells)
    bell = [math.exp(-0.5 * ((k - up_cells) / sd_cells) ** 2) for k in range(reach, -reach - 1, -1)]
    total = sum(bell)
    return tuple(weight / total for weight in bell)
