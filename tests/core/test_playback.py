"""Where things lie in a take that is played back slower."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.judge import judge_take
from coach.core.playback import (
    LEAD_S,
    Slowed,
    begin_frame,
    heard_notes,
    same_passage,
    start_of,
    whereabouts,
)
from coach.core.rules import Rules
from coach.core.take import Attack, Take
from tests.making import RATE, attacks_of, plan_of, scale

PLAN = plan_of(scale(60, 12), tempo_bpm=96.0)
LEAD = round(LEAD_S * RATE)


def take_of(attacks):
    take = Take(1, PLAN, tuple(attacks), (), False)
    return take, judge_take(take, Rules())


@given(st.sampled_from([0.25, 0.3, 0.5, 0.75, 1.0]), st.sampled_from([44_100, 48_000]), st.data())
def test_frames_there_and_back(speed, rate, data):
    frames = st.integers(PLAN.start_frame, PLAN.end_frame)
    slowed = Slowed(PLAN, speed, rate, data.draw(frames))
    frame = data.draw(frames)
    ratio = Fraction(rate, RATE) / Fraction(str(speed))
    assert abs(slowed.at(frame) - (frame - slowed.from_frame) * ratio) <= 1
    assert abs(slowed.frame(slowed.at(frame)) - frame) <= 1 + 1 / ratio
    assert slowed.at(slowed.from_frame) == 0


@given(st.sampled_from([0.25, 0.3, 0.5, 1.0]), st.integers(PLAN.start_frame, PLAN.end_frame))
def test_clicks_keep_their_place_in_the_whole(speed, from_frame):
    slowed = Slowed(PLAN, speed, RATE, from_frame)
    began = round((from_frame - PLAN.start_frame) / Fraction(str(speed)))
    places = [round((c.frame - PLAN.start_frame) / Fraction(str(speed))) for c in PLAN.clicks]
    assert [c.frame for c in slowed.clicks()] == [p - began for p in places if p >= began]


def test_where_it_begins():
    late = take_of(attacks_of(PLAN, {3: 900}))[1]
    assert begin_frame(PLAN, late) == PLAN.start_frame
    assert begin_frame(PLAN, late, clicks=False) == PLAN.downbeat_frame - LEAD
    assert begin_frame(PLAN, late, note=3) == PLAN.dues[3].frame - LEAD
    assert begin_frame(PLAN, late, bar=1) == PLAN.dues[8].frame - LEAD
    early = take_of(attacks_of(PLAN, {3: -900, 0: -700, 8: -800}))[1]
    assert begin_frame(PLAN, early, note=3) == PLAN.dues[3].frame - 900 - LEAD
    assert begin_frame(PLAN, early, bar=1) == PLAN.dues[8].frame - 800 - LEAD
    assert begin_frame(PLAN, early, clicks=False) == PLAN.downbeat_frame - 700 - LEAD


def test_what_is_shown_follows_what_was_played():
    attacks = [a for k, a in enumerate(attacks_of(PLAN, {5: 900})) if k != 2]
    _, report = take_of(attacks)
    before = whereabouts(PLAN, report, PLAN.start_frame)
    assert before == {"phase": "count-in", "pulse": -4, "now": None, "verdicts": ()}
    for verdict in report.verdicts:
        just = whereabouts(PLAN, report, start_of(verdict))
        assert just["now"] == verdict.index
        assert just["verdicts"] == report.verdicts[: verdict.index + 1]
        assert just["phase"] == "playing"
        assert whereabouts(PLAN, report, start_of(verdict) - 1)["now"] != verdict.index
    assert start_of(report.verdicts[2]) == PLAN.dues[2].frame
    assert start_of(report.verdicts[5]) == PLAN.dues[5].frame + 900


def test_notes_as_they_were_heard():
    attacks = attacks_of(PLAN, {5: 900})
    attacks[4] = replace(attacks[4], pitch=None)
    extra = Attack(PLAN.dues[11].frame + 9_000, 50.0, -40.0)
    take, report = take_of([*attacks, extra])
    notes = heard_notes(take, report)
    assert [note.frame for note in notes] == [a.frame for a in (*attacks, extra)]
    assert notes[4].pitch == PLAN.dues[4].pitch
    assert notes[4].length_frames == PLAN.dues[4].length_frames
    assert notes[5].length_frames == PLAN.dues[5].length_frames - 900
    assert notes[11].length_frames == 9_000
    assert notes[12].level_db == -40.0


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (plan_of(scale(60, 12), tempo_bpm=60.0), True),
        (plan_of(scale(60, 11)), False),
        (plan_of(scale(62, 12)), False),
        (plan_of(scale(60, 12), length_beats=Fraction(1, 4)), False),
    ],
)
def test_the_same_notes(other, same):
    assert same_passage(PLAN, other) == same
