"""The posterior over the ceiling, against scipy and against players made as it assumes."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import betaln, comb
from scipy.stats import betabinom

from coach.core.gate import Gate
from coach.core.pace.belief import (
    CELL_LN,
    CURVE_WEIGHTS,
    CURVES,
    HIGHEST_TARGET,
    NOTES_ALIKE,
    PARTS,
    SPOILT_TAKES,
    Belief,
    _take_chances,
    pass_chance,
)
from coach.core.pace.prior import EarlierTake, belief_from, beliefs_from, first_belief

shares = st.floats(0.02, 0.99)
counts = st.integers(1, 120).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


TOTAL = 1 / NOTES_ALIKE - 1


def scipys_take(share, counted):
    return betabinom(counted, share * TOTAL, (1 - share) * TOTAL)


def chances_of(share, counted):
    """Of 0, 1 ... clean notes, where `share` can be expected."""
    clean = np.arange(counted + 1)
    a, b = share * TOTAL, (1 - share) * TOTAL
    usual = np.exp(betaln(clean + a, counted - clean + b) - betaln(a, b)) * comb(counted, clean)
    return (1 - SPOILT_TAKES) * usual + SPOILT_TAKES / (counted + 1)


@given(st.sampled_from(CURVES), st.floats(0.5, HIGHEST_TARGET), counts, st.integers(0, PARTS - 1))
def test_the_count_of_clean_notes_is_beta_binomial(curve, target, take, part):
    clean, counted = take
    found = _take_chances(curve, target, clean, counted, part, 30)
    for cell in (-30, -7, 0, 12, 30):
        share = curve.share((cell + part / PARTS) * CELL_LN, target)
        usual = scipys_take(share, counted).pmf(clean)
        expected = (1 - SPOILT_TAKES) * usual + SPOILT_TAKES / (counted + 1)
        assert found[cell + 30] == pytest.approx(expected, rel=1e-6)


@given(shares, counts)
def test_the_chance_to_pass_is_the_upper_tail(share, take):
    need, counted = take
    usual = scipys_take(share, counted).sf(need - 1)
    blind = (counted - need + 1) / (counted + 1)
    expected = (1 - SPOILT_TAKES) * usual + SPOILT_TAKES * blind
    assert pass_chance(share, need, counted) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("target", [0.5, 0.8, 0.9, 0.97])
@pytest.mark.parametrize("curve", CURVES)
def test_the_share_at_the_ceiling_is_the_target(curve, target):
    assert curve.share(0.0, target) == pytest.approx(target)
    assert curve.share(-5.0, target) > target > curve.share(0.1, target)


def test_the_posterior_is_bayes_rule_on_numpy_arrays():
    """Three takes on a coarse grid, multiplied out with scipy's pmf, at tempi to a quarter of a
    cell."""
    takes = [(80.0, 31, 32), (92.0, 27, 32), (88.0, 22, 24)]
    belief = first_belief(70, 110, 0.9)
    weights = np.array(belief.weights)
    ceilings_ln = belief.lowest_ln + CELL_LN * np.arange(weights.shape[1])
    for tempo, clean, counted in takes:
        belief = belief.after_take(tempo, clean, counted)
        part_ln = CELL_LN / PARTS
        tempo_ln = belief.lowest_ln + part_ln * round(
            (math.log(tempo) - belief.lowest_ln) / part_ln
        )
        for row, curve in enumerate(CURVES):
            above = tempo_ln - ceilings_ln
            falls = np.log((1 - curve.lapse) / 0.9 - 1) + above / curve.width_ln
            share = np.maximum(0.02, (1 - curve.lapse) / (1 + np.exp(falls)))
            usual = scipys_take(share, counted).pmf(clean)
            weights[row] *= (1 - SPOILT_TAKES) * usual + SPOILT_TAKES / (counted + 1)
    weights /= weights.sum()
    np.testing.assert_allclose(belief.weights, weights, atol=1e-9)
    mean = (weights.sum(axis=0) * ceilings_ln).sum()
    assert belief.estimate_bpm == pytest.approx(math.exp(mean))


@pytest.mark.parametrize(("tempo_bpm", "clean"), [(5.0, 30), (5.0, 0), (900.0, 30), (900.0, 0)])
def test_a_tempo_beyond_all_cells_counts_as_one_just_beyond(tempo_bpm, clean):
    belief = first_belief(70, 110, 0.9)
    lowest = math.exp(belief.lowest_ln - CELL_LN)
    highest = math.exp(belief.lowest_ln + CELL_LN * len(belief.weights[0]))
    beyond = lowest if tempo_bpm < lowest else highest
    assert belief.after_take(tempo_bpm, clean, 30) == belief.after_take(beyond, clean, 30)


def test_drift_adds_its_mean_and_variance():
    belief = first_belief(60, 120, 0.9).after_take(85, 20, 32).after_take(75, 30, 32)
    moved = belief.drifted(0.02, 0.03)
    assert moved.mean_ln - belief.mean_ln == pytest.approx(0.02, abs=0.001)
    variance = moved.sd_percent**2 - belief.sd_percent**2
    assert math.sqrt(variance) == pytest.approx(3.0, abs=0.2)


def test_the_interval_covers_nine_of_ten_players_made_as_assumed():
    """Each player's ceiling and curve are drawn from the prior, each count from its likelihood."""
    random, inside, players = Random(5), 0, 300
    for _ in range(players):
        belief = first_belief(60, 120, 0.9)
        row = random.choices(range(len(CURVES)), CURVE_WEIGHTS)[0]
        (cell,) = random.choices(range(len(belief.weights[row])), belief.weights[row])
        ceiling_ln = belief.lowest_ln + CELL_LN * (cell + random.uniform(-0.5, 0.5))
        for _ in range(8):
            tempo = belief.highest_bpm(0.6, 29, 32)
            share = CURVES[row].share(math.log(tempo) - ceiling_ln, 0.9)
            clean = random.choices(range(33), chances_of(share, 32))[0]
            belief = belief.after_take(tempo, clean, 32)
        low, high = belief.interval_bpm(0.9)
        inside += low <= math.exp(ceiling_ln) <= high
    # Four standard errors of a share of 0.9 of 300.
    assert inside / players == pytest.approx(0.9, abs=0.07)


@given(st.floats(60, 110), st.floats(1.02, 1.5), st.integers(8, 64))
def test_faster_takes_are_less_likely_to_pass(tempo, faster, counted):
    belief, need = first_belief(60, 120, 0.9).after_take(80, 28, 32), Gate(0.9).needed(counted)
    slow, fast = belief.chance(tempo, need, counted), belief.chance(tempo * faster, need, counted)
    assert slow >= fast
    assert belief.highest_bpm(0.8, need, counted) <= belief.highest_bpm(0.5, need, counted)


@given(st.integers(16, 31), st.floats(70, 110))
def test_more_clean_notes_raise_the_estimate(clean, tempo):
    """From half of the notes up: below that a take may just as well have been broken off."""
    belief = first_belief(60, 120, 0.9)
    fewer, more = (belief.after_take(tempo, count, 32).estimate_bpm for count in (clean, clean + 1))
    assert fewer < more


def earlier(days_ago: float, tempo: float = 90.0) -> list[EarlierTake]:
    return [EarlierTake(tempo, clean, 32, days_ago) for clean in (30, 28, 29, 31, 27, 29)]


def test_what_is_long_ago_is_known_less_well():
    spreads = [
        belief.sd_percent
        for belief in (
            belief_from(60, 120, 0.9, earlier(1)),
            belief_from(60, 120, 0.9, earlier(30)),
            first_belief(60, 120, 0.9),
        )
    ]
    assert spreads == sorted(spreads)
    assert belief_from(60, 120, 0.9, earlier(1)).estimate_bpm == pytest.approx(90, rel=0.08)


def test_later_takes_tell_more_in_whatever_order_they_come():
    takes = [*earlier(0.5, tempo=100.0), *earlier(20, tempo=80.0)]
    one, other = (belief_from(60, 120, 0.9, order) for order in (takes, takes[6:] + takes[:6]))
    assert one == other
    assert one.estimate_bpm > 93


def test_what_was_believed_on_earlier_days():
    takes = [*earlier(20, tempo=80.0), *earlier(0, tempo=100.0)]
    before, now = beliefs_from(60, 120, 0.9, takes, [5, 0])
    aged = [EarlierTake(t.tempo_bpm, t.clean, t.counted, t.days_ago - 5) for t in takes[:6]]
    assert before == belief_from(60, 120, 0.9, aged)
    assert now.estimate_bpm == pytest.approx(
        belief_from(60, 120, 0.9, takes).estimate_bpm, rel=0.02
    )


def test_a_take_without_a_judged_note_tells_nothing():
    nothing: Belief = belief_from(60, 120, 0.9, [EarlierTake(90, 0, 0, 1)])
    assert nothing == belief_from(60, 120, 0.9, [])
