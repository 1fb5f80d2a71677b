"""A month under several ways to plan: `python -m tests.benchmarks.planning`.

Simulated players (`tests.core.planning.months`) live four weeks up to a concert, with days missed:
first those with whom the figures of configs/planning.toml were looked at, then as many as asked
for who were never looked at.
`reached`: the share of all passages that go at their goals on the concert day; `better`, `worse`:
of the players, how many reach more or fewer than with the plan of the day.  At the end, how long
a plan takes.
"""

from __future__ import annotations

import argparse
import time

from coach.core.planning import KnownCeiling, Worked, plan_today
from tests.core.planning import months

POLICIES = {
    "the plan of the day": months.planned,
    "equal time for all": months.equal,
    "equal for the others": months.unfinished,
    "always the weakest": months.weakest,
    "the three weakest": months.three_weakest,
}
SEEN, HELD_OUT = range(100), 1000


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--players", type=int, default=400)
    players = parser.parse_args().players
    _table("looked at", SEEN)
    _table("held out", range(HELD_OUT, HELD_OUT + players))
    _time()


def _table(what: str, seeds: range) -> None:
    results = {
        name: [months.live(seed, policy) for seed in seeds] for name, policy in POLICIES.items()
    }
    ours = [reached for reached, _ in results["the plan of the day"]]
    of = sum(count for _, count in results["the plan of the day"])
    print(f"{what}: {len(seeds)} players ({seeds[0]} to {seeds[-1]}), {of} passages,", end=" ")
    print(f"{months.DAYS} days")
    print(f"{'':22}reached  better   worse")
    for name, result in results.items():
        theirs = [reached for reached, _ in result]
        better = sum(a > b for a, b in zip(theirs, ours, strict=True))
        worse = sum(a < b for a, b in zip(theirs, ours, strict=True))
        print(f"{name:22}{100 * sum(theirs) / of:6.1f} %{better:8}{worse:8}")
    print()


def _time() -> None:
    for count in (10, 200, 2000):
        passages = [
            Worked(
                f"p{k}",
                f"p{k}",
                120,
                20,
                60 + k % 70,
                history=(KnownCeiling(1, 50), KnownCeiling(2, 60)),
            )
            for k in range(count)
        ]
        begin = time.perf_counter()
        plan_today(passages, 739_000, 60, 739_030, months.SETTINGS)
        print(f"a plan of {count} passages: {1000 * (time.perf_counter() - begin):.1f} ms")


if __name__ == "__main__":
    main()
