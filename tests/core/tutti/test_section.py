"""Several players on one axis."""

from __future__ import annotations

import json
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.tutti.section import SectionPlayer, section_of
from coach.core.tutti.words import section_sentences
from tests.core.tutti.simulated import noise, notes_of, plan_of, take

NAMES = ("first", "second", "third", "fourth")
NOTES = 48


def section(leads, seed, *, sd=8.0, alike=0.0, absent=0.0, shift=0.0):
    """Players with these habits (ms, below 0: ahead), each on a pitch of their own."""
    rng = Random(seed)
    parts = []
    for number, lead in enumerate(leads):
        plan = plan_of(notes_of([60 - 4 * number] * NOTES))
        error = noise(rng, NOTES, sd, alike)
        away = [k for k in range(NOTES) if rng.random() < absent]
        report = take(plan, lambda k, e=error, lead=lead: lead + e[k] + shift, missed=away)
        parts.append(SectionPlayer(NAMES[number], report, plan))
    return section_of(parts)


def middle(leads):
    return [lead - sum(leads) / len(leads) for lead in leads]


@pytest.mark.parametrize("leads", [(-20, 12), (-20, 0, 12), (-20, 0, 12, 4)])
@pytest.mark.parametrize("absent", [0.0, 0.25])
@pytest.mark.parametrize("seed", range(5))
def test_leads_and_lags_are_found_within_5_ms(leads, absent, seed):
    found = section(leads, seed, absent=absent)
    for one, true in zip(found.standings, middle(leads), strict=True):
        assert one.late_ms == pytest.approx(true, abs=5)


@pytest.mark.parametrize(("alike", "absent"), [(0.0, 0.0), (0.3, 0.2)])
def test_the_intervals_hold_the_truth_nine_times_in_ten(alike, absent):
    """Of 240 intervals of 90 % more than 201 hold in 999 of 1000 such tests (binomial, 3.3 standard
    deviations); above, there is room, for what they allow for likeness only widens them."""
    leads = (-20, 0, 12)
    held = sum(
        one.low_ms <= true <= one.high_ms
        for seed in range(80)
        for one, true in zip(
            section(leads, seed, alike=alike, absent=absent).standings, middle(leads), strict=True
        )
    )
    assert 201 < held < 236


def test_only_who_surely_leads_or_lags_by_more_than_5_ms_is_told():
    found = section((-20, 3, 17), 1)
    assert [one.told for one in found.standings] == [True, False, True]
    said = section_sentences(found)
    assert said[0] == "first: wait for the others."
    assert any(one.startswith("first leads by 2") for one in said)
    assert not any(one.startswith("second") for one in said)
    assert not any(one.told for one in section((0, 0, 0), 1).standings)


def test_of_two_one_is_told_against_the_other():
    said = section_sentences(section((-15, 15), 2))
    assert any(one.startswith("first is ahead of second by 3") for one in said)
    assert said[0].startswith(("first", "second"))


@settings(max_examples=20)
@given(st.integers(-50, 50), st.integers(0, 50))
def test_a_shift_of_all_changes_nothing(shift, seed):
    one, other = section((-10, 5, 5), seed), section((-10, 5, 5), seed, shift=shift)
    for a, b in zip(one.standings, other.standings, strict=True):
        assert a.late_ms == pytest.approx(b.late_ms, abs=0.05)
        assert a.low_ms == pytest.approx(b.low_ms, abs=0.1)


def test_habits_add_up_to_nothing_whoever_is_away():
    found = section((-20, 0, 12, 4), 3, absent=0.4)
    assert sum(one.late_ms for one in found.standings) == pytest.approx(0, abs=1e-9)


def test_the_spread_of_each_common_attack():
    plan = plan_of(notes_of([60, 62, 64, 65]))
    parts = [
        SectionPlayer("first", take(plan, lambda k: 10.0 * k), plan),
        SectionPlayer("second", take(plan, lambda k: -5.0, missed=[3]), plan),
    ]
    found = section_of(parts)
    assert [meeting.spread_ms for meeting in found.meetings] == [5, 15, 25]
    assert found.spread_ms == 15
    assert found.unplaced == ("first", "second")
    assert any("Too few common attacks" in one for one in section_sentences(found))


def test_who_is_on_the_beat_with_nobody_is_not_placed():
    together = plan_of(notes_of([60] * 16))
    between = plan_of(notes_of([60] * 16, start=Fraction(1, 4)))
    found = section_of(
        [
            SectionPlayer("a", take(together), together),
            SectionPlayer("b", take(together), together),
            SectionPlayer("c", take(between), between),
        ]
    )
    assert [one.name for one in found.standings] == ["a", "b"]
    assert found.unplaced == ("c",)


def test_nobody_together():
    found = section_of([])
    assert found.spread_ms is None
    assert section_sentences(found)[0].startswith("Choose a passage")


def levels(*, one_scale):
    """The first is 9 dB louder all through, the second 8 dB too loud on note 5."""
    plan = plan_of(notes_of([60] * 16))
    loud = take(plan, level_db=lambda k: -11.0)
    once = take(plan, level_db=lambda k: -12.0 if k == 5 else -20.0)
    parts = [
        SectionPlayer("a", loud, plan),
        SectionPlayer("b", once, plan),
        SectionPlayer("c", take(plan), plan),
    ]
    return section_of(parts, one_scale=one_scale)


def test_levels_against_ones_own_tell_what_stands_out_but_not_who_is_loud():
    found = levels(one_scale=False)
    assert found.meetings[5].balance_db == pytest.approx((-8 / 3, 16 / 3, -8 / 3))
    assert found.meetings[4].balance_db == pytest.approx((0, 0, 0))
    assert all(one.loud_db is None for one in found.standings)


def test_levels_on_one_scale_tell_both():
    found = levels(one_scale=True)
    assert found.standings[0].loud_db == pytest.approx((15 * 6 + 10 / 3) / 16)
    assert (found.meetings[4], 0, pytest.approx(6)) in found.standing_out()
    assert any("a stands out of the chord" in one for one in section_sentences(found))


def test_plain_data():
    found = json.loads(json.dumps(section((0, 10), 1).to_dict()))
    assert found["meetings"][1]["beats"] == 0.5
