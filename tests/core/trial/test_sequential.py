"""The test: exact against counting all tosses, its bounds against published ones, its rates on
simulated players who keep to none of its assumptions."""

from __future__ import annotations

import itertools
from collections import Counter
from random import Random
from statistics import fmean, stdev

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coach.core.trial import TrialSettings, outcome_of
from coach.core.trial.sequential import (
    Difference,
    Sequential,
    Spending,
    Walk,
    stabilised,
    steps,
    walked,
)
from tests.core.trial.peers import crossing_chance, fixed_pairs, shaped_bounds
from tests.core.trial.player import RAGGED, Habits, levels_for, played, verdict

TRIALS = 2000


def crossings(sizes: list[int], spending: Spending) -> list[bool]:
    """Whether each choice of signs is decided at any look."""
    signs = itertools.product((-1, 1), repeat=len(sizes))
    return [
        walked((s * size for s, size in zip(way, sizes, strict=True)), spending).crossed
        for way in signs
    ]


@settings(max_examples=25)
@given(st.lists(st.integers(0, 30), min_size=8, max_size=8), st.floats(0.02, 0.3))
def test_no_more_tosses_than_allowed_are_decided(sizes, share):
    """Every one of the 256 tosses is played through: exactly the claim, for any differences."""
    spending = Spending(share, 1.0, 8)
    found = crossings(sizes, spending)
    assert fmean(found) <= share + 1e-9
    spent = walked(sizes, spending).spent
    assert fmean(found) == pytest.approx(spent, abs=1e-9)


def test_one_look_is_the_permutation_test_of_scipy():
    """All spent at one look: decided just where scipy's exact sign-flip p-value is small enough."""
    rng = Random(5)
    for _ in range(30):
        rad = [rng.randrange(-20, 40) for _ in range(9)]
        walk = Walk()
        for step in rad[:-1]:
            walk = walk.after(step, 0.0)
        exact = stats.permutation_test(
            (np.array(rad),), np.sum, permutation_type="samples", n_resamples=np.inf
        ).pvalue
        assert walk.after(rad[-1], 0.05).crossed == (exact <= 0.05)


def test_bounds_as_published():
    """Five looks, O'Brien-Fleming spending, two-sided .05: 4.88, 3.36, 2.68, 2.29, 2.03 (Lan and
    DeMets 1983; from memory).  Many small steps make the sum nearly normal."""
    rng, looks, steps_a_look = Random(2), 5, 120
    walk, variance, bounds = Walk(), 0, []
    for look in range(1, looks + 1):
        allowed = 4 * stats.norm.sf(stats.norm.isf(0.0125) / np.sqrt(look / looks))
        for k in range(steps_a_look):
            size = rng.randrange(1, 12)
            variance += size**2
            walk = walk.after(
                size * rng.choice((-1, 1)), allowed if k == steps_a_look - 1 else walk.spent
            )
        bounds.append(next(i for i, c in enumerate(reversed(walk.chances)) if c > 0))
        bounds[-1] = (len(walk.chances) // 2 - bounds[-1]) / np.sqrt(variance)
    assert bounds[1:] == pytest.approx([3.357, 2.680, 2.290, 2.031], abs=0.03)


def test_the_peers_are_as_published():
    """Constants for five looks, two-sided .05: Pocock 2.413, O'Brien-Fleming 2.040 (Jennison and
    Turnbull 2000, tables 2.1 and 2.3; from memory); 1.96 for one."""
    assert shaped_bounds(5, 0.05, 0.5)[-1] == pytest.approx(2.413, abs=0.005)
    assert shaped_bounds(5, 0.05, 0.0)[-1] == pytest.approx(2.040, abs=0.005)
    assert crossing_chance(np.array([1.96]), True) == pytest.approx(0.05, abs=0.0005)


def test_a_count_as_an_angle_has_one_variance_at_any_level():
    """Near 1 / (n + 1/2), by scipy's binomial, where the plain share varies fourfold."""
    counts = np.arange(17)
    angles = np.array([stabilised(k, 16) for k in counts])
    for share in (0.5, 0.7, 0.8, 0.9):
        chances = stats.binom.pmf(counts, 16, share)
        variance = chances @ (angles - chances @ angles) ** 2
        assert variance * 16.5 == pytest.approx(1, abs=0.15)


@given(st.floats(-3.2, 3.2))
def test_steps_are_the_same_either_side(rad):
    assert steps(-rad) == -steps(rad)


@pytest.mark.parametrize(
    ("shares", "habits", "trials"),
    [
        ((0.85, 0.85), Habits(), TRIALS),
        ((0.85, 0.85), RAGGED, 500),
        ((0.95, 0.95), Habits(), 500),
    ],
)
def test_equal_ways_are_seldom_told_apart(shares, habits, trials):
    levels = levels_for(shares, habits)
    found = Counter(verdict(played(levels, seed, habits)) for seed in range(trials))
    # With few trials two standard errors are left to chance.
    chance = 0.0 if trials == TRIALS else 2 * (0.05 * 0.95 / trials) ** 0.5
    assert (found["a"] + found["b"]) / trials <= TrialSettings().false_share + chance
    # Neither way is favoured: 5 standard deviations of a fair split.
    decided = found["a"] + found["b"]
    assert abs(found["a"] - found["b"]) <= 5 * decided**0.5


def test_a_difference_that_matters_is_found_with_fewer_takes_than_a_fixed_test():
    """.90 against .80 clean of 16 notes: in four of five trials at least, the other way hardly
    ever, and "even" within the stated rate; in fewer pairs than the paired t-test of that power."""
    levels, habits = levels_for((0.9, 0.8), Habits()), Habits()
    trials = [played(levels, seed, habits) for seed in range(TRIALS)]
    found = Counter(verdict(trial) for trial in trials)
    power = found["a"] / len(trials)
    assert power >= 0.8
    assert found["b"] / len(trials) <= 0.005
    assert found["even"] / len(trials) <= TrialSettings().hidden_share
    endless = TrialSettings(false_share=0, hidden_share=0, tired_drop=1.1)
    whole = [played(levels, seed, habits, 16, endless).test.seen for seed in range(200)]
    rad = [difference.rad for seen in whole for difference in seen]
    needed = fixed_pairs(fmean(rad) / stdev(rad), power)
    assert fmean(len(trial.pairs) for trial in trials) < 0.95 * needed


def test_fixed_pairs_against_the_handbook():
    """A standardised difference of .5, power .8, two-sided .05: 34 pairs (33.4; Cohen 1988)."""
    assert fixed_pairs(0.5, 0.8) == pytest.approx(33.4, abs=0.2)


def test_the_interval_holds_the_truth_whenever_it_stops():
    """Equal ways: nought is outside just where one is called cleaner.  With a difference the truth
    (about the mean of whole trials) is inside in 95 % less three standard errors."""
    equal = levels_for((0.85, 0.85), Habits())
    for seed in range(80):
        trial = played(equal, seed, Habits())
        low, high = trial.test.interval_rad()
        assert (low > 0 or high < 0) == bool(trial.test.cleaner)
    habits = Habits(learning=0.0, tiring=0.0, tempo=0.0)
    levels = levels_for((0.9, 0.8), habits)
    ends = [outcome_of(played(levels, seed, habits)) for seed in range(200)]
    inside = fmean(o.low <= 0.1 <= o.high for o in ends)
    assert inside >= 0.95 - 3 * (0.05 * 0.95 / 200) ** 0.5


def test_longer_takes_need_fewer_pairs():
    limits = [TrialSettings().most_pairs(notes) for notes in (8, 16, 32, 64, 5000)]
    assert limits == sorted(limits, reverse=True)
    assert limits[1] == TrialSettings().pairs_at_16
    # What takes vary beyond their notes (0.055 of 0.1175) no length takes away.
    assert limits[-1] == 15


def test_six_pairs_all_one_way_are_not_enough_early_in_a_trial():
    """Two of 64 tosses do that: 3 %, more than is spent by the sixth of 30 pairs."""
    test = Sequential(Spending(0.05, 2.0, 30), Spending(0.15, 1.5, 30))
    seen = []
    while not test.cleaner:
        test = test.after(Difference(0.6, 0.25))
        seen.append(test.cleaner)
    assert len(seen) == next(k for k in range(1, 30) if 2 / 2**k <= 0.05 * (k / 30) ** 2)
