"""What each player adds to a beat of their own, over beats on which not all take part."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from coach.core.profile.estimate import student_quantile
from coach.core.tutti.slopes import independent

INTERVAL = 0.9

Matrix = list[list[float]]


@dataclass(frozen=True, slots=True)
class Effect:
    """One player's share, all of them adding up to 0, with its 90 % interval, over `count`
    beats."""

    value: float
    low: float
    high: float
    count: int


def effects(beats: Sequence[Mapping[int, float]], fewest: int) -> dict[int, Effect]:
    """From what was measured of each player (by number) on each beat, two or more a beat; players
    on fewer than `fewest` beats, or who share none with the rest, are left out."""
    players = _kept(beats, fewest)
    place = {player: k for k, player in enumerate(players)}
    rows = [{place[p]: x for p, x in beat.items() if p in place} for beat in beats]
    rows = [row for row in rows if len(row) > 1]
    if len(players) < 2:
        return {}
    inverse = _inverted(_ties(rows, len(players)))
    pulls = [_pull(row) for row in rows]
    values = _times(inverse, [math.fsum(p.get(k, 0.0) for p in pulls) for k in range(len(players))])
    rests = [_pull({k: x - values[k] for k, x in row.items()}) for row in rows]
    return {player: _effect(values[k], inverse[k], rests, k) for k, player in enumerate(players)}


def _kept(beats: Sequence[Mapping[int, float]], fewest: int) -> list[int]:
    """The players of the largest group that hangs together by common beats."""
    kept = {player for beat in beats for player in beat}
    while True:
        shared = [{p for p in beat if p in kept} for beat in beats]
        shared = [group for group in shared if len(group) > 1]
        few = {p for p in kept if sum(p in group for group in shared) < fewest}
        if not few:
            groups = _groups(shared)
            largest: set[int] = max(groups, key=len) if groups else set()
            return sorted(largest)
        kept -= few


def _groups(shared: Sequence[set[int]]) -> list[set[int]]:
    found: list[set[int]] = []
    for group in shared:
        touching = [one for one in found if one & group]
        found = [one for one in found if not one & group]
        found.append(group.union(*touching))
    return found


def _pull(row: Mapping[int, float]) -> dict[int, float]:
    middle = fmean(row.values())
    return {k: x - middle for k, x in row.items()}


def _ties(rows: Sequence[Mapping[int, float]], size: int) -> Matrix:
    """The normal equations with the beats eliminated; 1/size all over makes them add up to 0."""
    made = [[1.0 / size] * size for _ in range(size)]
    for row in rows:
        for a in row:
            made[a][a] += 1.0
            for b in row:
                made[a][b] -= 1.0 / len(row)
    return made


def _effect(
    value: float,
    weights: Sequence[float],
    rests: Sequence[Mapping[int, float]],
    player: int,
) -> Effect:
    """`weights` turn what is left on each beat (`rests`) into what it adds to the player's error;
    beats that the player rests on bear on it a little, too, through the others."""
    added = [math.fsum(weights[k] * rest for k, rest in one.items()) for one in rests]
    own = [x for x, one in zip(added, rests, strict=True) if player in one]
    count = len(own)
    alone = max(2.0, independent(own))
    # Alike neighbours: the squares of so many beats count for fewer.
    variance = math.fsum(x * x for x in added) * (count / (count - 1)) * (count / alone)
    half = student_quantile((1 + INTERVAL) / 2, alone - 1) * math.sqrt(variance)
    return Effect(value, value - half, value + half, count)


def _times(matrix: Matrix, column: Sequence[float]) -> list[float]:
    return [math.fsum(a * b for a, b in zip(row, column, strict=True)) for row in matrix]


def _inverted(matrix: Matrix) -> Matrix:
    """By Gauss and Jordan with the largest pivot; the matrix must have an inverse."""
    size = len(matrix)
    rows = [[*row, *(float(k == j) for j in range(size))] for k, row in enumerate(matrix)]
    for k in range(size):
        best = max(range(k, size), key=lambda j: abs(rows[j][k]))
        rows[k], rows[best] = rows[best], rows[k]
        rows[k] = [x / rows[k][k] for x in rows[k]]
        for j in range(size):
            if j != k:
                factor = rows[j][k]
                rows[j] = [x - factor * y for x, y in zip(rows[j], rows[k], strict=True)]
    return [row[size:] for row in rows]
