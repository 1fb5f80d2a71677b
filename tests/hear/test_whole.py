"""What is no sound is told as lost, and hurts nothing that comes after it."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.errors import CoachError
from coach.hear.follow.ear import FollowEar
from coach.hear.levels import measure_level
from coach.hear.slownotes import hear_slow_notes
from coach.hear.tuner import Tuner
from coach.hear.whole import FAINTEST, LOUDEST, is_whole, whole
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.making import RATE, plan_of, scale

WRONG = [float("nan"), float("inf"), float("-inf"), 10 * LOUDEST, -3e38]


def test_sound_stays_as_it_is_but_for_what_is_far_too_faint():
    samples = np.array([0.5, -1.5, FAINTEST, FAINTEST / 9, 1e-40, 0], np.float32)
    assert is_whole(samples)
    made, gaps = whole(7, samples, RATE)
    assert made.tolist() == [*samples[:3].tolist(), 0, 0, 0]
    assert gaps == ()
    assert whole(0, samples[:0], RATE)[1] == ()


@given(st.lists(st.integers(0, 4999), max_size=40), st.sampled_from(WRONG), st.integers(1, 2000))
def test_gaps_lie_around_all_that_is_no_sound_in_blocks_of_any_size(places, wrong, size):
    samples = np.full(5000, 0.25, np.float32)
    samples[places] = wrong
    covered = np.zeros(6000, bool)
    for start in range(0, 5000, size):
        made, gaps = whole(500 + start, samples[start : start + size], 8000)
        assert np.abs(made).max() <= 0.25
        for gap in gaps:
            covered[gap.frame : gap.end_frame] = True
    steps = {(500 + place) // 80 for place in places}
    assert set((np.flatnonzero(covered) // 80).tolist()) == steps


@pytest.mark.parametrize("wrong", WRONG)
def test_a_take_with_no_sound_in_it_is_heard_before_and_after(wrong):
    plan = plan_of(scale(58, 8), tempo_bpm=200)
    played = perform(plan, STEADY, Random(3))
    samples = render(played, RATE, 0, plan.end_frame + RATE // 2)
    samples[plan.dues[4].frame + 10] = wrong
    ear, judge = FollowEar(plan.dues, RATE), Judge(plan.dues, Rules(), RATE)
    for start in range(0, len(samples), 4096):
        part = samples[start : start + 4096]
        judge.step(ear.feed(Chunk(start, len(part), part)))
    judge.step(ear.finish())
    kinds = [verdict.kind for verdict in judge.report().verdicts]
    assert kinds == ["clean"] * 4 + ["unsure"] + ["clean"] * 3


def test_nothing_but_what_is_no_sound_is_no_take_and_no_level():
    samples = np.full(RATE, float("nan"), np.float32)
    plan = plan_of(scale(58, 4), downbeat_frame=RATE // 8, tempo_bpm=400)
    ear, judge = FollowEar(plan.dues, RATE), Judge(plan.dues, Rules(), RATE)
    judge.step(ear.feed(Chunk(0, len(samples), samples)))
    judge.step(ear.finish())
    assert {verdict.kind for verdict in judge.report().verdicts} == {"unsure"}
    assert measure_level(samples, RATE).advice == "move nearer"
    assert hear_slow_notes(samples, RATE) == []
    assert Tuner(RATE).feed(0, samples) == []


def test_the_tuner_goes_on_after_it():
    t = np.arange(RATE)
    good = (0.2 * np.sin(2 * np.pi * 220 * t / RATE)).astype(np.float32)
    tuner = Tuner(RATE)
    assert tuner.feed(0, good)
    assert tuner.feed(RATE, np.full(480, np.inf, np.float32)) == []
    again = tuner.feed(RATE + 480, good)
    assert again[0].frame > RATE + 480
    assert all(reading.hz == pytest.approx(220, rel=1e-4) for reading in again)


@pytest.mark.parametrize("length", [0, 1, 100, RATE // 20])
def test_sound_shorter_than_any_note(length):
    assert hear_slow_notes(np.full(length, 0.5, np.float32), RATE) == []


@pytest.mark.parametrize("wrong", WRONG)
def test_a_recording_of_what_is_no_sound_is_refused(wrong):
    import coach

    notes = [{"onset_s": 0.1, "duration_s": 0.1, "midi": 60}]
    expected = coach.Expected.from_dict({"notes": notes})
    with pytest.raises(CoachError, match="not numbers, or far too large"):
        coach.assess(np.array([0.0, wrong], np.float32), RATE, expected)
