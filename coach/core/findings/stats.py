"""Exact and rank tests in plain Python, all one-sided: the chance of so much, or more, by luck.

Tests that look at several takes hold each take by itself (a stratum), so that a bad take, bad
throughout, makes no pattern.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from statistics import median


def binomial_tail(count: int, trials: int, chance: float) -> float:
    """P(X >= count) of `trials` independent trials."""
    return math.fsum(
        math.comb(trials, k) * chance**k * (1 - chance) ** (trials - k)
        for k in range(max(0, count), trials + 1)
    )


def hypergeometric(drawn: int, marked: int, total: int) -> list[float]:
    """P(X = 0), P(X = 1) ... of marked ones among `drawn` out of `total`, of which `marked` are."""
    ways = math.comb(total, drawn)
    return [
        math.comb(marked, k) * math.comb(total - marked, drawn - k) / ways
        for k in range(min(drawn, marked) + 1)
    ]


def stratified_fisher(tables: Iterable[tuple[int, int, int, int]]) -> float:
    """Fisher's exact test over several takes: P(at least so many faults in the group, in all).

    Each table is (faults in the group, notes in the group, faults in all, notes in all) of a take.
    With one table it is Fisher's test (Fisher 1935, J. R. Stat. Soc. 98:39); with more, the exact
    form of Cochran, Mantel and Haenszel's: the hypergeometric distributions, convolved (Gart 1970,
    Biometrika 57:471).
    """
    seen, spread = 0, [1.0]
    for found, group, faults, total in tables:
        seen += found
        spread = _convolved(spread, hypergeometric(group, faults, total))
    return min(1.0, math.fsum(spread[seen:]))


def _convolved(one: Sequence[float], other: Sequence[float]) -> list[float]:
    spread = [0.0] * (len(one) + len(other) - 1)
    for i, a in enumerate(one):
        for j, b in enumerate(other):
            spread[i + j] += a * b
    return spread


def rank_test(strata: Iterable[tuple[Sequence[float], Sequence[float]]]) -> float:
    """Wilcoxon's rank-sum test, the ranks taken within each (group, others) and the sums added: the
    chance of a group ranked so high.

    Normal, with the correction for ties and for continuity (Lehmann 1975, Nonparametrics, 1.4 and
    3.2).
    """
    excess, variance = 0.0, 0.0
    for group, others in strata:
        if group and others:
            more, spread = _rank_sum(group, others)
            excess += more
            variance += spread
    return normal_tail((excess - 0.5) / math.sqrt(variance)) if variance > 0 else 1.0


def _rank_sum(group: Sequence[float], others: Sequence[float]) -> tuple[float, float]:
    """The rank sum of the group, less what is expected, and its variance."""
    pooled = sorted([*group, *others])
    n, m = len(pooled), len(group)
    counts = Counter(pooled)
    ranks, passed = {}, 0
    for value in sorted(counts):
        ranks[value] = passed + (counts[value] + 1) / 2
        passed += counts[value]
    ties = sum(c**3 - c for c in counts.values())
    variance = m * (n - m) / 12 * (n + 1 - ties / (n * (n - 1)))
    return sum(ranks[value] for value in group) - m * (n + 1) / 2, variance


def signed_rank_test(values: Sequence[float]) -> float:
    """Wilcoxon's signed-rank test, exactly: the chance of values so far above 0.

    It is the sign test with the sizes counted in: with few takes it needs all of them on one side,
    with more it forgives a small exception (Wilcoxon 1945, Biometrics Bull. 1:80).  Zeros are left
    out; equal sizes are ranked in the order that speaks against the finding.
    """
    ordered = sorted((v for v in values if v), key=lambda v: (abs(v), v < 0))
    total = sum(rank for rank, value in enumerate(ordered, 1) if value > 0)
    spread = [1.0]
    for rank in range(1, len(ordered) + 1):
        spread = _convolved(spread, [0.5, *[0.0] * (rank - 1), 0.5])
    return min(1.0, math.fsum(spread[total:]))


def slope(points: Sequence[tuple[float, float]]) -> float | None:
    """The median slope between all pairs of (x, y), which a few strays hardly bend (Theil 1950; Sen
    1968, J. Am. Stat. Assoc. 63:1379); None with fewer than two places."""
    slopes = [
        (b[1] - a[1]) / (b[0] - a[0]) for a, b in itertools.combinations(points, 2) if a[0] != b[0]
    ]
    return median(slopes) if slopes else None


def holm(chances: Sequence[float]) -> list[float]:
    """Corrected for their number, so that one wrong find in the whole family stays as rare as
    asked, however they depend on each other (Holm 1979, Scand. J. Stat. 6:65)."""
    order = sorted(range(len(chances)), key=lambda k: chances[k])
    corrected = [1.0] * len(chances)
    highest = 0.0
    for place, k in enumerate(order):
        highest = max(highest, min(1.0, (len(chances) - place) * chances[k]))
        corrected[k] = highest
    return corrected


def normal_tail(z: float) -> float:
    """P(Z >= z) of the standard normal distribution."""
    return 0.5 * math.erfc(z / math.sqrt(2))
