"""The click: exact to the sample however it is cut, never above full scale."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.exercise import ClickStyle
from coach.errors import CoachError
from coach.ports.click import KINDS, SOUNDS, ClickTrack, Placed, click_sound
from tests.making import plan_of

PLAN = plan_of(
    [60] * 8, tempo_bpm=97.0, downbeat_frame=150_000, click=ClickStyle(subdivision=3, level_db=-6)
)


@pytest.mark.parametrize("sound", SOUNDS)
def test_the_first_sample_that_is_not_zero_is_the_frame_of_the_click(sound):
    plan = plan_of([60] * 4, tempo_bpm=97.0, click=ClickStyle(sound=sound))
    track = ClickTrack(plan)
    for click in plan.clicks:
        before_and_first = track.render(click.frame - 20, 21)
        assert not np.any(before_and_first[:20])
        assert before_and_first[20] != 0


@given(st.lists(st.integers(1, 90_000), min_size=1, max_size=30))
def test_any_cut_into_windows_gives_the_same_samples(lengths):
    track = ClickTrack(PLAN)
    start = PLAN.start_frame - 1000
    whole = track.render(start, sum(lengths))
    parts, at = [], start
    for length in lengths:
        parts.append(track.render(at, length))
        at += length
    assert np.array_equal(np.concatenate(parts), whole)


def test_overlapping_sounds_add_up():
    wave = np.ones(10, np.float32)
    mixed = Placed([(5, wave), (0, wave)]).render(-2, 20)
    assert mixed.tolist() == [0.0] * 2 + [1.0] * 5 + [2.0] * 5 + [1.0] * 5 + [0.0] * 3


def test_kinds_differ_in_level_and_pitch():
    peaks = {kind: float(np.max(np.abs(click_sound("wood", kind, 48_000)))) for kind in KINDS}
    assert peaks["bar"] == pytest.approx(1.0)
    assert peaks["bar"] > peaks["beat"] > peaks["part"]
    strongest = {
        kind: int(np.argmax(np.abs(np.fft.rfft(click_sound("wood", kind, 48_000), 48_000))))
        for kind in KINDS
    }
    assert strongest["bar"] > strongest["beat"] > strongest["part"]


def test_the_level_is_against_full_scale_and_never_above_it():
    quiet = ClickTrack(plan_of([60] * 4, click=ClickStyle(level_db=-20)))
    loud = ClickTrack(plan_of([60] * 4, click=ClickStyle(level_db=+20)))
    assert np.max(np.abs(quiet.render(0, 200_000))) == pytest.approx(0.1, rel=1e-5)
    assert np.max(np.abs(loud.render(0, 200_000))) == pytest.approx(1.0, rel=1e-5)


def test_bars_of_rest_are_silent():
    style = ClickStyle(off_bars=(1, 1))
    plan = plan_of([60] * 16, click=style, length_beats=Fraction(1))
    bar = 4 * 24_000
    second = ClickTrack(plan).render(plan.downbeat_frame + bar, bar)
    third = ClickTrack(plan).render(plan.downbeat_frame + 2 * bar, bar)
    assert not np.any(second)
    assert np.any(third)


def test_an_unknown_sound_is_refused_with_the_known_ones():
    plan = replace(PLAN, exercise=replace(PLAN.exercise, click=ClickStyle(sound="gong")))
    with pytest.raises(CoachError, match=r"no click sound 'gong'; choose one of wood, bell, tick"):
        ClickTrack(plan)
