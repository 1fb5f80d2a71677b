"""Beats to frames: every click in one rounding, nothing accumulated."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import MeterChange, Note, Passage, in_a_row
from coach.core.timeline import clicks, count_in_frames, frames_from_downbeat, plan_take

RATES = st.sampled_from([16_000, 22_050, 44_100, 48_000, 88_200, 96_000, 192_000])
MILLI_BPM = st.integers(10_000, 400_000)
DOWNBEAT = 96_000

# Milliseconds between sixteenths at awkward tempi (60000 / bpm / 4), as printed in a table of
# note lengths.
SIXTEENTH_MS = {109: 137.615, 123: 121.951, 132: 113.636, 149: 100.671, 172: 87.209}


def exercise_of(bars=4, bpm=120.0, *, bar=4, pulse=1, click=None):
    notes = in_a_row([60] * int(bars * Fraction(bar) * 2), Fraction(1, 2))
    passage = Passage(notes, bar_beats=Fraction(bar), pulse_beats=Fraction(pulse))
    return Exercise(passage, bpm, click=click or ClickStyle())


def is_nearest(frame: int, clicks_from_start: int, milli_bpm: int, rate: int) -> bool:
    """Whether `frame` is the whole number nearest to k * 60 * rate / bpm, in integers only."""
    return 2 * abs(frame * milli_bpm - clicks_from_start * 60_000 * rate) <= milli_bpm


@given(st.integers(-64, 5000), MILLI_BPM, RATES)
def test_every_click_is_rounded_once(k, milli_bpm, rate):
    assert is_nearest(frames_from_downbeat(k, milli_bpm / 1000, rate), k, milli_bpm, rate)


@given(st.integers(1, 120), MILLI_BPM, RATES)
def test_clicks_of_a_plan_do_not_drift(bars, milli_bpm, rate):
    made = clicks(exercise_of(bars, milli_bpm / 1000), rate, DOWNBEAT)
    assert len(made) == 4 + 4 * bars
    for k, click in enumerate(made, -4):
        assert is_nearest(click.frame - DOWNBEAT, k, milli_bpm, rate)


@given(st.integers(1, 30), MILLI_BPM, RATES)
def test_notes_fall_on_the_clicks(bars, milli_bpm, rate):
    plan = plan_take(exercise_of(bars, milli_bpm / 1000), rate, DOWNBEAT)
    on_beat = [due.frame for due in plan.dues[::2]]
    assert on_beat == [click.frame for click in plan.clicks[4:]]
    assert all(
        a.frame + a.length_frames == b.frame for a, b in zip(plan.dues, plan.dues[1:], strict=False)
    )
    assert plan.dues[-1].frame + plan.dues[-1].length_frames == plan.end_frame
    assert plan.start_frame == plan.clicks[0].frame


@pytest.mark.parametrize(("bpm", "ms"), SIXTEENTH_MS.items())
def test_sixteenths_as_printed(bpm, ms):
    frames = frames_from_downbeat(Fraction(1, 4), bpm, 192_000)
    assert frames / 192 == pytest.approx(ms, abs=0.004)


def test_six_eight_has_two_clicks_a_bar():
    exercise = exercise_of(2, 60, bar=3, pulse=Fraction(3, 2))
    kinds = [click.kind for click in clicks(exercise, 48_000, DOWNBEAT)]
    assert kinds == ["bar", "beat"] * 3
    assert count_in_frames(exercise, 48_000) == 2 * 48_000


def test_resting_clicks_and_parts():
    style = ClickStyle(count_in_bars=2, subdivision=2, off_bars=(1, 1))
    made = clicks(exercise_of(4, 60, click=style), 1000, 0)
    sounding = {frame for click in made if (frame := click.frame) >= 0}
    assert sounding == {*range(0, 4000, 500), *range(8000, 12_000, 500)}
    assert [click.kind for click in made[:4]] == ["bar", "part", "beat", "part"]
    assert len(made) == 2 * 8 + 16


def test_clicks_follow_a_change_of_meter():
    """4/4, then 6/8 in dotted quarters: a quarter note stays as long."""
    change = MeterChange(Fraction(4), Fraction(3), Fraction(3, 2))
    notes = tuple(Note(60, Fraction(k), Fraction(1)) for k in range(10))
    exercise = Exercise(Passage(notes, changes=(change,)), 60.0)
    made = clicks(exercise, 1000, 0)
    assert [(c.frame, c.kind) for c in made if c.frame >= 0] == [
        (0, "bar"),
        (1000, "beat"),
        (2000, "beat"),
        (3000, "beat"),
        (4000, "bar"),
        (5500, "beat"),
        (7000, "bar"),
        (8500, "beat"),
    ]
    assert plan_take(exercise, 1000, 0).end_frame == 10_000


def test_the_last_click_of_a_bar_may_be_cut_short():
    passage = Passage((Note(60, Fraction(0), Fraction(5)),), bar_beats=Fraction(5, 2))
    made = clicks(Exercise(passage, 60.0), 1000, 0)
    assert [c.frame for c in made if c.frame >= 0] == [0, 1000, 2000, 2500, 3500, 4500]


@pytest.mark.parametrize(("bar", "pulse"), [(4, 1), (3, Fraction(3, 2)), (4, 2)])
def test_a_take_is_listened_to_from_half_a_click_before_the_downbeat(bar, pulse):
    """The tempo counts clicks, whatever they are worth."""
    plan = plan_take(exercise_of(bpm=100.0, bar=bar, pulse=pulse), 48_000, DOWNBEAT)
    assert plan.listen_from_frame == DOWNBEAT - 14_400
    first_clicks = [click.frame for click in plan.clicks if click.frame >= DOWNBEAT][:3]
    assert [plan.pulse_at(frame) for frame in first_clicks] == [0, 1, 2]
    assert plan.pulse_at(DOWNBEAT - 1) == -1
