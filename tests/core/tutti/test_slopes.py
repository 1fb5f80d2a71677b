"""Slopes and their intervals, against scipy."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from coach.core.tutti.slopes import independent, slope_of
from tests.core.tutti.simulated import noise

VALUES = st.lists(st.floats(-200, 200), min_size=4, max_size=40)


@given(VALUES)
def test_the_slope_is_least_squares(ys):
    xs = [0.5 * k for k in range(len(ys))]
    found = slope_of(xs, ys, 0.9)
    expected = stats.linregress(xs, ys)
    assert found.value == pytest.approx(expected.slope, abs=1e-7)
    assert found.low <= found.value <= found.high


def test_where_neighbours_are_not_alike_the_interval_is_the_usual_one():
    xs = list(range(12))
    ys = [3 * x + (-1) ** x * (1 + x % 3) for x in xs]
    found, expected = slope_of(xs, ys, 0.95), stats.linregress(xs, ys)
    half = stats.t.ppf(0.975, 10) * expected.stderr
    assert found.low == pytest.approx(expected.slope - half)
    assert found.high == pytest.approx(expected.slope + half)


def test_where_they_are_alike_it_is_wider():
    rests = noise(Random(3), 60, 10, alike=0.7)
    found = slope_of(range(60), rests, 0.95)
    expected = stats.linregress(range(60), rests)
    usual = stats.t.ppf(0.975, 58) * expected.stderr
    assert (found.high - found.low) / 2 > 1.5 * usual
    assert independent(rests) < 40


def test_nothing_is_told_of_too_little():
    assert slope_of([0, 1, 2], [1, 2, 3], 0.9) is None
    assert slope_of([1, 1, 1, 1], [1, 2, 3, 4], 0.9) is None


def test_a_perfect_line_has_no_width():
    found = slope_of([0, 1, 2, 3], [0, 2, 4, 6], 0.9)
    assert (found.low, found.high) == (2, 2)
    assert found.beyond(1.9)
    assert not found.beyond(2.0)
