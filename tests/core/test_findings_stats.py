"""The tests of the findings against scipy."""

from __future__ import annotations

import functools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as reference

from coach.core.findings import stats


@st.composite
def tables(draw):
    """(faults in the group, notes in the group, faults in all, notes in all) of one take."""
    total = draw(st.integers(1, 40))
    group, faults = draw(st.integers(0, total)), draw(st.integers(0, total))
    low, high = max(0, group + faults - total), min(group, faults)
    return draw(st.integers(low, high)), group, faults, total


@given(tables())
def test_one_take_is_fishers_exact_test(table):
    found, group, faults, total = table
    square = [[found, group - found], [faults - found, total - group - faults + found]]
    expected = reference.fisher_exact(square, alternative="greater").pvalue
    assert stats.stratified_fisher([table]) == pytest.approx(expected, rel=1e-7, abs=1e-14)


@given(st.lists(tables(), min_size=1, max_size=6))
def test_several_takes_are_convolved_hypergeometrics(several):
    spreads = [
        reference.hypergeom(total, faults, group).pmf(np.arange(min(group, faults) + 1))
        for _, group, faults, total in several
    ]
    whole = functools.reduce(np.convolve, spreads)
    expected = whole[sum(t[0] for t in several) :].sum()
    assert stats.stratified_fisher(several) == pytest.approx(expected, rel=1e-7, abs=1e-12)


def test_takes_are_not_pooled():
    """A bad take with most of the group's notes, and a good one with few of them: no difference
    within either, a great one in the sum (Simpson 1951, J. R. Stat. Soc. B 13:238)."""
    bad, good = (27, 30, 36, 40), (0, 10, 3, 60)
    pooled = tuple(one + other for one, other in zip(bad, good, strict=True))
    assert stats.stratified_fisher([bad, good]) > 0.5
    assert stats.stratified_fisher([pooled]) < 1e-5


@given(st.integers(0, 30), st.integers(0, 30), st.floats(0, 1))
def test_binomial_tail(count, trials, chance):
    expected = reference.binom.sf(count - 1, trials, chance)
    assert stats.binomial_tail(count, trials, chance) == pytest.approx(expected, abs=1e-9)


@given(
    st.lists(st.integers(0, 12), min_size=1, max_size=20),
    st.lists(st.integers(0, 12), min_size=1, max_size=20),
)
def test_one_stratum_is_mann_and_whitneys_test(group, others):
    if len({*group, *others}) == 1:
        assert stats.rank_test([(group, others)]) == 1.0
        return
    expected = reference.mannwhitneyu(group, others, alternative="greater", method="asymptotic")
    assert stats.rank_test([(group, others)]) == pytest.approx(expected.pvalue, rel=1e-6)


def test_a_whole_take_that_is_high_is_no_reason():
    rng = np.random.default_rng(1)
    strata = [(list(rng.normal(0, 1, 4)), list(rng.normal(0, 1, 12))) for _ in range(5)]
    lifted = [([v + 50 * k for v in a], [v + 50 * k for v in b]) for k, (a, b) in enumerate(strata)]
    assert stats.rank_test(lifted) == pytest.approx(stats.rank_test(strata))


@given(st.lists(st.floats(-9, 9).filter(lambda v: abs(v) > 1e-6), min_size=1, max_size=12))
def test_signed_ranks(values):
    if len({abs(v) for v in values}) < len(values):
        return
    expected = reference.wilcoxon(values, alternative="greater", method="exact").pvalue
    assert stats.signed_rank_test(values) == pytest.approx(expected, rel=1e-9)


def test_equal_sizes_speak_against_the_finding():
    assert stats.signed_rank_test([1, -1]) == pytest.approx(0.75)
    assert stats.signed_rank_test([0, 0]) == 1.0


@given(
    st.lists(st.tuples(st.integers(0, 30), st.floats(-50, 50)), min_size=2, max_size=12),
)
def test_slope_is_theil_and_sens(points):
    x, y = [p[0] for p in points], [p[1] for p in points]
    if len(set(x)) < 2:
        assert stats.slope(points) is None
        return
    assert stats.slope(points) == pytest.approx(reference.theilslopes(y, x).slope, abs=1e-9)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_holm_lies_between_bonferroni_and_nothing(chances):
    corrected = stats.holm(chances)
    for plain, better in zip(chances, corrected, strict=True):
        assert plain <= better <= min(1.0, len(chances) * plain)
    order = sorted(range(len(chances)), key=lambda k: chances[k])
    assert [corrected[k] for k in order] == sorted(corrected)


def test_holm_by_hand():
    """0.01 x 4, 0.02 x 3, 0.03 x 2 (raised to the one before), 0.5 x 1."""
    assert stats.holm([0.03, 0.01, 0.5, 0.02]) == pytest.approx([0.06, 0.04, 0.5, 0.06])


@given(st.floats(-8, 8))
def test_normal_tail(z):
    assert stats.normal_tail(z) == pytest.approx(reference.norm.sf(z), rel=1e-9)
