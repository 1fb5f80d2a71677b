"""Staircases rest where the literature says, and the weighted pacer keeps to its drill."""

from __future__ import annotations

import math
from random import Random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.gate import Gate
from coach.core.pace.weighted import Rule, Staircase, WeightedPacer, balanced

SPREAD_LN = 0.3


def chance_at(level_ln: float) -> float:
    """A listener who passes less often the harder it is: logistic, spread wide against a step."""
    return 1 / (1 + math.exp(level_ln / SPREAD_LN))


def rests_at(rule: Rule, seed: int, takes: int = 40_000) -> float:
    """The chance to pass at the mean level of a long run, its start left out."""
    random, stairs, levels = Random(seed), Staircase(-1.0), []
    for _ in range(takes):
        stairs = stairs.after(random.random() < chance_at(stairs.level_ln), rule)
        levels.append(stairs.level_ln)
        stairs = Staircase(stairs.level_ln, stairs.in_a_row)
    return chance_at(fmean(levels[takes // 20 :]))


# 1 up, k down with equal steps: Levitt (1971), J. Acoust. Soc. Am. 49:467.
LEVITT = [(1, 0.5), (2, 0.7071), (3, 0.7937), (4, 0.8409)]
# Easier / harder = p / (1 - p): Kaernbach (1991), Percept. Psychophys. 49:227.
KAERNBACH = [(0.75, 3.0), (0.8, 4.0), (0.85, 5.667), (0.9, 9.0)]
# Harder / easier step after k successes, and where it rests: García-Pérez (1998), Vision Res.
# 38:1861, abstract.
GARCIA_PEREZ = [(1, 0.2845, 0.7785), (2, 0.5488, 0.8035), (3, 0.7393, 0.8315), (4, 0.8415, 0.8584)]


@pytest.mark.parametrize(("successes", "point"), LEVITT)
def test_equal_steps_rest_at_levitts_points(successes, point):
    rule = Rule(0.02, 0.02, successes)
    assert rule.point == pytest.approx(point, abs=1e-4)
    assert rests_at(rule, successes) == pytest.approx(point, abs=0.015)


@pytest.mark.parametrize(("point", "ratio"), KAERNBACH)
def test_weighted_steps_rest_at_kaernbachs_points(point, ratio):
    rule = balanced(point, 0.01)
    assert rule.easier_ln / rule.harder_ln == pytest.approx(ratio, abs=1e-3)
    assert rests_at(rule, round(100 * point)) == pytest.approx(point, abs=0.015)


@pytest.mark.parametrize(("successes", "ratio", "point"), GARCIA_PEREZ)
def test_unequal_steps_rest_at_garcia_perezs_points(successes, ratio, point):
    rule = Rule(0.02 * ratio, 0.02, successes)
    assert rule.point == pytest.approx(point, abs=2e-4)
    assert rests_at(rule, successes) == pytest.approx(point, abs=0.015)


def test_turns_are_where_the_direction_changes():
    stairs, rule = Staircase(0.0), Rule(1.0, 2.0)
    for passed in (True, True, False, False, True):
        stairs = stairs.after(passed, rule)
    assert stairs.turns_ln == (2.0, -2.0)
    assert stairs.level_ln == -1.0


def test_back_by_two_steps_after_a_failure():
    pacer = WeightedPacer(100, 200, Gate(step_percent=4))
    pacer.after_take(32, 32)
    assert pacer.pace.tempo_bpm == 104
    pacer.after_take(10, 32)
    assert pacer.pace.tempo_bpm == pytest.approx(104 / 1.04**2, abs=0.06)


def test_it_waits_for_the_gates_passes_in_a_row():
    pacer = WeightedPacer(100, 200, Gate(passes=2))
    pacer.after_take(32, 32)
    assert (pacer.pace.tempo_bpm, pacer.pace.passes_in_a_row) == (100, 1)
    pacer.after_take(32, 32)
    assert pacer.pace.tempo_bpm > 100


def test_it_is_done_after_a_pass_when_its_turns_lie_close():
    pacer = WeightedPacer(60, 200, Gate())
    for _ in range(80):
        passed = pacer.pace.tempo_bpm < 100
        pacer.after_take(32 if passed else 20, 32)
        if pacer.done:
            break
    assert passed
    assert pacer.estimate_bpm == pytest.approx(100, rel=0.05)
    assert f"{pacer.estimate_bpm:.0f} clicks a minute" in pacer.done


def test_a_step_by_the_player_moves_the_staircase():
    pacer = WeightedPacer(100, 200, Gate(step_percent=5))
    pacer.step(1)
    pacer.after_take(32, 32)
    assert pacer.pace.tempo_bpm == pytest.approx(100 * 1.05**2, abs=0.06)


@given(
    st.lists(st.integers(0, 20), max_size=40),
    st.floats(20, 200),
    st.floats(0, 100),
    st.integers(1, 4),
)
def test_between_half_the_start_and_the_goal(counts, start, more, passes):
    pacer = WeightedPacer(start, start + more, Gate(passes=passes))
    for clean in counts:
        before = pacer.pace.tempo_bpm
        pacer.after_take(clean, 20)
        assert start / 2 - 0.1 <= pacer.pace.tempo_bpm <= start + more + 0.1
        if pacer.pace.reached:
            assert clean >= 18
            assert before >= start + more - 0.1
