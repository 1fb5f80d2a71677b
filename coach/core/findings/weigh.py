"""How sure a question is: faults and lags of a group of notes against the other notes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from statistics import median
from typing import NamedTuple

from coach.core.findings import stats
from coach.core.findings.facts import TIMING, Fact, Material, Spot

FEWEST_FAULTS, FEWEST_NOTES = 3, 4
FEWEST_TAKES = 3
# A group of several notes must stand out as a group: one bad note in it is a finding of its own.
GROUP_CHANCE = 0.02
# A lag smaller than this between tongue and valve is not heard as one (common practice, no source).
SMALLEST_LAG_MS = 8.0
FEWEST_HEARD = 6
SMALLEST_DRIFT_MS = 10.0


def counted(material: Material, *, timing: bool = True) -> list[Fact]:
    """The facts that say something of a note by itself.

    Unsure ones don't, nor those right after a fault, good or bad: a stumble pulls its neighbours
    along, and counted one by one they would seem to be a pattern.  Without `timing`, early and late
    notes are left out (where the tempo runs away they are its doing).
    """
    kept: list[Fact] = []
    stumbled = False
    for fact in material.facts:
        fault = fact.fault and (timing or fact.kind not in TIMING)
        said = fact.kind != "unsure" and (timing or fact.kind not in TIMING)
        if said and not (stumbled and fact.spot[1] > 0):
            kept.append(fact)
        stumbled = fault
    return kept


class Split(NamedTuple):
    """Facts inside a group of notes, and the others."""

    inside: tuple[Fact, ...]
    outside: tuple[Fact, ...]

    @property
    def faults(self) -> int:
        return sum(fact.fault for fact in self.inside)

    @property
    def faults_elsewhere(self) -> int:
        return sum(fact.fault for fact in self.outside)


def split(facts: Iterable[Fact], spots: Collection[Spot]) -> Split:
    inside: list[Fact] = []
    outside: list[Fact] = []
    for fact in facts:
        (inside if fact.spot in spots else outside).append(fact)
    return Split(tuple(inside), tuple(outside))


def chance_of_faults(halves: Split) -> float:
    """How likely chance alone gives the group so many faults, each take held by itself; 1.0 where
    there are too few of them to speak of."""
    if halves.faults < FEWEST_FAULTS or len(halves.inside) < FEWEST_NOTES:
        return 1.0
    if len({fact.spot for fact in halves.inside}) > 1 and not _as_a_group(halves):
        return 1.0
    return stats.stratified_fisher(_tables(halves))


def _tables(halves: Split) -> list[tuple[int, int, int, int]]:
    """Of each take: faults in the group, notes in it, faults in all, notes in all; sorted, so that
    the chances come out the same to the last digit in any order of takes."""
    inside, outside = (Counter((f.take, f.fault) for f in facts) for facts in halves)
    tables = []
    for take in {take for take, _ in (*inside, *outside)}:
        found, group = inside[take, True], inside[take, True] + inside[take, False]
        others = outside[take, True] + outside[take, False]
        tables.append((found, group, found + outside[take, True], group + others))
    return sorted(tables)


def _as_a_group(halves: Split) -> bool:
    """Whether the notes of the group, each counted once, rank above the others of their passage."""
    strata: dict[int, tuple[list[float], list[float]]] = {}
    for side, facts in enumerate(halves):
        for (passage, _), share in _shares(facts).items():
            strata.setdefault(passage, ([], []))[side].append(share)
    return stats.rank_test(strata.values()) <= GROUP_CHANCE


def _shares(facts: Iterable[Fact]) -> dict[Spot, float]:
    """The share of faults on each note."""
    totals: dict[Spot, list[int]] = {}
    for fact in facts:
        total = totals.setdefault(fact.spot, [0, 0])
        total[0] += fact.fault
        total[1] += 1
    return {spot: faults / count for spot, (faults, count) in totals.items()}


def lags(facts: Iterable[Fact]) -> list[float]:
    return [fact.lag_ms for fact in facts if fact.lag_ms is not None]


def chance_of_lag(halves: Split) -> float:
    """How likely chance alone puts the valves of the group so late; 1.0 where there are too few
    notes, or where the difference is too small to matter."""
    inside, outside = lags(halves.inside), lags(halves.outside)
    takes = {fact.take for fact in halves.inside if fact.lag_ms is not None}
    if len(inside) < FEWEST_NOTES or len(takes) < FEWEST_TAKES or not outside:
        return 1.0
    if median(inside) - median(outside) < SMALLEST_LAG_MS:
        return 1.0
    strata: dict[int, tuple[list[float], list[float]]] = {}
    for side, facts in enumerate(halves):
        for fact in facts:
            if fact.lag_ms is not None:
                strata.setdefault(fact.take, ([], []))[side].append(fact.lag_ms)
    return stats.rank_test(strata.values())


def drifts_ms(material: Material) -> list[float]:
    """How far each take drifts from its first note to its last against the click: below 0 where
    the player gains on it (rushing).  Takes with too few right notes are left out."""
    takes: dict[int, list[tuple[float, float]]] = {}
    for fact in material.facts:
        if fact.kind in ("clean", "muffled", *TIMING) and fact.deviation_ms is not None:
            takes.setdefault(fact.take, []).append((fact.at_pulses, fact.deviation_ms))
    return [_drift(points) for points in takes.values() if len(points) >= FEWEST_HEARD]


def _drift(points: Sequence[tuple[float, float]]) -> float:
    places = [place for place, _ in points]
    return (stats.slope(points) or 0.0) * (max(places) - min(places))


def chance_of_drift(drifts: Sequence[float]) -> float:
    """How likely chance alone makes the takes drift so far one way, either way; 1.0 where it is too
    little to be heard."""
    if not drifts or abs(median(drifts)) < SMALLEST_DRIFT_MS:
        return 1.0
    side = 1 if median(drifts) > 0 else -1
    return min(1.0, 2 * stats.signed_rank_test([side * drift for drift in drifts]))
