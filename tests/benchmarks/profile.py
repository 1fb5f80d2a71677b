"""How well the profile finds players whose figures are known: `python -m tests.benchmarks.profile`.

Lags of finger moves and limits of strokes: takes of `tests.core.profile.making`, really judged.
Ceilings: players of `tests.bed.practised`, in sessions of ten takes a day, the tempo moved by the
gate (or by the ceiling rule); of one passage, of a scale (three passages, 2 % apart), of a way of
tonguing (six passages, 5 % apart), of players who stay as they are and of ones who learn and tire.
For each number of takes: the error in the middle and of the ninth player in ten, the share of
players within 3 ms or 3 %, and how often the 90 % interval holds the truth.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable, Sequence
from random import Random
from statistics import median

from coach.core.profile.ceilings import ceilings_of
from coach.core.profile.estimate import Estimate, Sums
from coach.core.profile.limits import PRIOR_HZ, limit_estimate
from coach.core.profile.profile import profile_of
from coach.core.review import beliefs_on
from tests.bed.practised import Practised, practised
from tests.core.profile.making import DAY, Player, exercise_of, takes_of
from tests.core.profile.test_profile import DUE, MOVES, falling

TAKES = (5, 10, 20, 30, 40, 60, 120)
WITHIN = 3.0
# Off the truth, in ms or per cent, and whether the interval holds it.
Found = tuple[float, bool]


def lags(takes: int, players: int) -> Iterable[Found]:
    for seed in range(players):
        rng = Random(f"lags {takes} {seed}")
        true_ms = {move: rng.gauss(0, 15) for move in MOVES}
        player = Player(lag_ms=true_ms.__getitem__, lag_spread_ms=rng.uniform(6, 14))
        profile = profile_of(takes_of(player, [exercise_of()] * takes, rng), DAY)
        for move, seen in profile.moves.items():
            yield _held(seen.value, true_ms[move], seen.value.value - true_ms[move])


def limits(takes: int, players: int) -> Iterable[Found]:
    """32 notes a take, from well under the limit to a little over it."""
    for seed in range(players):
        rng = Random(f"limits {takes} {seed}")
        stroke = rng.choice(list(PRIOR_HZ))
        limit_hz = PRIOR_HZ[stroke] * math.exp(rng.gauss(0, 0.2))
        player = falling(limit_hz, limit_hz * rng.uniform(0.05, 0.14))
        rates = [limit_hz * (0.7 + 0.45 * rng.random()) for _ in range(takes)]
        clean = [sum(rng.random() < player.clean(DUE, rate) for _ in range(32)) for rate in rates]
        bins = [Sums(32, good, 32, 32 * rate) for good, rate in zip(clean, rates, strict=True)]
        found = limit_estimate(stroke, bins)
        yield _held(found, limit_hz, 100 * math.log(found.value / limit_hz))


def _held(found: Estimate, truth: float, off: float) -> Found:
    return off, found.low <= truth <= found.high


def of_passage(made: Practised, takes: int) -> Found:
    rows = made.rows[:takes]
    (belief,) = beliefs_on(rows, [rows[-1].day])
    bpm, (low, high) = belief.estimate_bpm, belief.interval_bpm()
    truth = made.kind_hz(takes) * 15
    return 100 * math.log(bpm / truth), low <= truth <= high


def of_kind(made: Practised, takes: int) -> Found:
    rows = made.rows[:takes]
    (one,) = ceilings_of(rows, rows[-1].day).scales.values()
    truth = made.kind_hz(takes)
    return 100 * math.log(one.rate_hz / truth), one.low_hz <= truth <= one.high_hz


def table(what: str, found: Callable[[int], Iterable[Found]], unit: str) -> None:
    print(f"\n{what}\n| takes | middle, {unit} | 9 of 10 | within 3 | in the interval |")
    print("|---|---|---|---|---|")
    for takes in TAKES:
        rows = list(found(takes))
        off = sorted(abs(one) for one, _ in rows)
        inside = sum(held for _, held in rows) / len(rows)
        within = sum(one <= WITHIN for one in off) / len(off)
        ninth = off[math.ceil(0.9 * len(off)) - 1]
        print(f"| {takes} | {median(off):.1f} | {ninth:.1f} | {within:.0%} | {inside:.0%} |")


def ceilings(what: str, seen: Callable[[Practised, int], Found], made: Sequence[Practised]) -> None:
    table(what, lambda takes: [seen(one, takes) for one in made], "%")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--players", type=int, default=200)
    players = parser.parse_args().players
    table("lags of finger moves", lambda takes: lags(takes, max(1, players // 10)), "ms")
    table("limits of strokes", lambda takes: limits(takes, players), "%")
    seeds = range(players)
    most = max(TAKES)
    one = [practised(Random(k), most) for k in seeds]
    ceilings("ceiling of a passage", of_passage, one)
    few = [practised(Random(k), most, rule="ceiling") for k in range(max(1, players // 4))]
    ceilings("the same, the tempo moved by the ceiling rule (fewer players)", of_passage, few)
    scale = [practised(Random(k), most, passages=3, apart_ln=0.02) for k in seeds]
    ceilings("ceiling of a scale", of_kind, scale)
    tongue = [practised(Random(k), most, passages=6, apart_ln=0.05) for k in seeds]
    ceilings("ceiling of a way of tonguing", of_kind, tongue)
    learn = [practised(Random(k), most, passages=3, apart_ln=0.02, learning=True) for k in seeds]
    ceilings("ceiling of a scale, of players who learn and tire", of_kind, learn)


if __name__ == "__main__":
    main()
