"""Estimates against scipy, and their intervals against players drawn from the prior."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from coach.core.profile.estimate import (
    INTERVAL,
    Estimate,
    MeanPrior,
    SharePrior,
    Sums,
    beta_cdf,
    beta_quantile,
    difference,
    mean_estimate,
    share_estimate,
    student_quantile,
)

SIZES = st.floats(0.2, 5000)
PRIOR = MeanPrior(0.0, 15.0, 10.0)


@given(a=SIZES, b=SIZES, x=st.floats(0, 1))
def test_beta_cdf_is_scipys(a: float, b: float, x: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-8)


@given(a=SIZES, b=SIZES, chance=st.floats(0.02, 0.98))
def test_beta_quantile_is_scipys(a: float, b: float, chance: float) -> None:
    assert beta_quantile(chance, a, b) == pytest.approx(stats.beta.ppf(chance, a, b), abs=1e-6)


@given(freedom=st.floats(1, 10_000), chance=st.sampled_from([0.6, 0.95, 0.975, 0.995, 0.9995]))
def test_students_quantile_is_scipys(freedom: float, chance: float) -> None:
    expected = stats.t.ppf(chance, freedom)
    assert student_quantile(chance, freedom) == pytest.approx(expected, rel=1e-4)


def test_no_evidence_is_the_prior_and_says_so() -> None:
    share, mean = share_estimate(Sums(), SharePrior(0.9, 4)), mean_estimate(Sums(), PRIOR)
    assert (share.count, share.measured, mean.count, mean.measured) == (0, 0, 0, 0)
    assert share.value == 0.9
    assert (mean.low, mean.value, mean.high) == pytest.approx((-24.67, 0, 24.67), abs=0.01)


def sums_of(values: list[float]) -> Sums:
    count = float(len(values))
    return Sums(count, count, count, sum(values), sum(v * v for v in values))


@pytest.mark.parametrize("notes", [1, 3, 10, 50])
def test_intervals_of_means_hold_the_truth_as_often_as_they_say(notes: int) -> None:
    rng, inside, players = Random(notes), 0, 2000
    for _ in range(players):
        truth = rng.gauss(PRIOR.mean, PRIOR.sd)
        found = mean_estimate(sums_of([rng.gauss(truth, 10) for _ in range(notes)]), PRIOR)
        inside += found.low <= truth <= found.high
    # With little to go by the spread of notes is the prior's, and the interval on the wide side.
    assert INTERVAL - 0.02 <= inside / players <= 0.97


@pytest.mark.parametrize("notes", [2, 10, 60])
def test_intervals_of_shares_hold_the_truth_as_often_as_they_say(notes: int) -> None:
    rng, inside, players = Random(notes), 0, 2000
    for _ in range(players):
        truth = rng.betavariate(3.6, 0.4)
        clean = sum(rng.random() < truth for _ in range(notes))
        found = share_estimate(Sums(notes, clean), SharePrior(0.9, 4))
        inside += found.low <= truth <= found.high
    assert abs(inside / players - INTERVAL) < 0.03


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=20))
def test_more_of_the_same_narrows(values: list[float]) -> None:
    one, four = (mean_estimate(sums_of(values * times), PRIOR) for times in (1, 4))
    assert four.high - four.low < one.high - one.low
    assert four.measured > one.measured


def test_a_difference_is_as_wide_as_both_and_as_well_known_as_the_less() -> None:
    found = difference(Estimate(5, 2, 8, 100, 0.9), Estimate(1, -3, 5, 10, 0.5))
    assert (found.value, found.low, found.high) == (4, -1, 9)
    assert (found.count, found.measured) == (10, 0.5)
