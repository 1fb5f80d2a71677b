"""A report out of its rounded data tells tallies what the report itself told them."""

from __future__ import annotations

import json
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.judge import judge_take
from coach.core.passage import Passage, in_a_row
from coach.core.profile.tallies import SYLLABLE, tallies_of
from coach.core.profile.tally import Tally
from coach.core.rules import Rules
from coach.core.share.takes import check_take, checked_passage, report_told
from tests.sharing import played

RATES = (16_000, 44_100, 48_000)


def judged(take, limit_ms=60.0):
    report = judge_take(take, replace(Rules(), offset_limit_ms=limit_ms))
    return replace(report, origin_frame=take.plan.downbeat_frame)


def close(one: Tally, other: Tally) -> bool:
    """All counts the same, levels as rounded to hundredths of a decibel."""
    counts = [(t.kind, t.name, t.day, t.count, t.clean, t.values) for t in (one, other)]
    return counts[0] == counts[1] and abs(one.total - other.total) <= 0.0051 * one.values


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.sampled_from(RATES), st.sampled_from([60.0, 1.0]))
def test_tallies_of_a_told_report_are_those_of_the_report(seed, rate, limit_ms):
    """Exactly, up to 48,000 frames a second, with the offset cut off at the limit too; but for the
    levels of an ear that does not follow, where two attacks may have been one note."""
    take = played(Random(seed), rate=rate)
    report = judged(take, limit_ms)
    back = report_told(take, json.loads(json.dumps(report.to_dict())))
    exercise = take.plan.exercise
    for fingerings in ([None] * len(take.plan.dues), ["12", "T0"] * (len(take.plan.dues) // 2)):
        mine = tallies_of(back, exercise, fingerings, 7)
        for one, other in zip(mine, tallies_of(report, exercise, fingerings, 7), strict=True):
            rounded = one.kind == SYLLABLE and not take.resolved
            assert close(one, other) if rounded else one == other
    assert back.accuracy == report.accuracy
    assert back.counts == report.counts


def test_at_a_higher_rate_it_is_within_two_hundredths_of_a_millisecond():
    take = played(Random(3), rate=192_000)
    report = judged(take)
    back = report_told(take, report.to_dict())
    for one, other in zip(back.verdicts, report.verdicts, strict=True):
        if other.deviation_frames is not None:
            assert one.deviation_frames == pytest.approx(other.deviation_frames, abs=3.84)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda t, r: (t, {**r, "notes": r["notes"][:-1]}), "not of these notes"),
        (lambda t, r: (t, {**r, "notes": r["notes"][::-1]}), "not of these notes"),
        (
            lambda t, r: (replace(t, plan=replace(t.plan, dues=t.plan.dues[1:])), r),
            "due notes are not those",
        ),
        (
            lambda t, r: (replace(t, attacks=(replace(t.attacks[0], due=12),)), r),
            "a note that is not there",
        ),
    ],
)
def test_parts_that_do_not_belong_together(spoil, sentence):
    take = played(Random(1))
    report = judged(take).to_dict()
    check_take(take, report)
    with pytest.raises(ValueError, match=sentence):
        check_take(*spoil(take, report))


def test_bars_that_would_never_be_counted_out():
    notes = in_a_row([60], 4)
    assert checked_passage(Passage(notes)) == Passage(notes)
    for bar_beats in (0, -4):
        with pytest.raises(ValueError, match="no length"):
            checked_passage(replace(Passage(notes), bar_beats=bar_beats))
    far = (replace(notes[0], start_beats=10**9),)
    with pytest.raises(ValueError, match="more than 10,000 bars"):
        checked_passage(Passage(far))
