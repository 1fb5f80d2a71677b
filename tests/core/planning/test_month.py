"""A month of simulated players: more goals reached than with other ways to share out the time."""

from __future__ import annotations

import pytest

from tests.core.planning import months

# Not those with whom the figures were looked at (`tests.benchmarks.planning`).
PLAYERS = range(2000, 2120)


def reached(policy: months.Policy) -> list[int]:
    return [months.live(seed, policy)[0] for seed in PLAYERS]


@pytest.fixture(scope="module")
def with_the_plan() -> list[int]:
    return reached(months.planned)


@pytest.mark.parametrize("other", [months.equal, months.weakest, months.three_weakest])
def test_more_goals_are_reached_than_otherwise(with_the_plan, other):
    theirs = reached(other)
    assert sum(with_the_plan) > sum(theirs)
    better = sum(a > b for a, b in zip(with_the_plan, theirs, strict=True))
    worse = sum(a < b for a, b in zip(with_the_plan, theirs, strict=True))
    assert better > worse


def test_no_player_is_so_good_or_so_slow_that_plans_do_not_matter(with_the_plan):
    """Else the comparison would say nothing."""
    of = sum(len(months.player(seed).pieces) for seed in PLAYERS)
    assert 0.2 < sum(with_the_plan) / of < 0.95
