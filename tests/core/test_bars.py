"""Bars of a recording: places that go on, taps that go astray, clicks that follow to the frame."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.exercise import Exercise
from coach.core.passage import Passage
from coach.core.timeline import frame_of
from coach.core.tutti.bars import Positions, tapped, warp_from
from coach.errors import CoachError
from tests.bed.ensemble import Rubato

RATE = 44_100


def places(gaps: list[int], first: int = 12_345, step: Fraction = Fraction(4)) -> Positions:
    frames = [first]
    for gap in gaps:
        frames.append(frames[-1] + gap)
    return Positions(RATE, tuple(step * k for k in range(len(frames))), tuple(frames))


@given(
    st.lists(st.integers(40_000, 200_000), min_size=1, max_size=40),
    st.floats(20, 240).map(lambda bpm: round(bpm, 3)),
    st.sampled_from([Fraction(1), Fraction(3, 2), Fraction(1, 2)]),
)
def test_clicks_follow_the_recording_to_the_frame(gaps, bpm, pulse):
    positions = places(gaps)
    meter = Passage("", (), pulse_beats=pulse)
    exercise = Exercise(meter, bpm, warp=warp_from(positions, bpm, pulse))
    for beat, frame in zip(positions.beats, positions.frames, strict=True):
        assert frame_of(exercise, RATE, positions.frames[0], beat) == frame


def test_a_recording_that_begins_before_the_excerpt_counts_from_its_first_beat():
    positions = Positions(100, (Fraction(-2), Fraction(2), Fraction(4)), (0, 400, 500))
    warp = warp_from(positions, 60)
    at = positions.frame_at(Fraction(0))
    assert at == 200
    assert [at + warp.even(Fraction(beat)) * 100 for beat in (0, 1, 2, 4)] == [200, 300, 400, 500]


def test_a_recording_that_ends_before_the_excerpt_says_so():
    positions = Positions(100, (Fraction(-4), Fraction(-2)), (0, 200))
    with pytest.raises(CoachError, match="ends before the excerpt"):
        warp_from(positions, 60)


@pytest.mark.parametrize(
    ("beats", "frames", "said"),
    [
        ((0, 4, 4), (0, 100_000, 200_000), "go on"),
        ((0, 4, 8), (0, 100_000, 100_000), "go on"),
        ((0, 4), (0, 100), "quarter notes a minute"),
        ((0, 4), (0, 100_000_000), "quarter notes a minute"),
        ((0,), (0,), "two places"),
        ((0, 4), (0,), "every place"),
    ],
)
def test_places_that_can_not_be_are_refused(beats, frames, said):
    with pytest.raises(CoachError, match=said):
        Positions(RATE, tuple(map(Fraction, beats)), frames)


def test_between_places_and_beyond_them_the_tempo_goes_on():
    positions = places([100_000, 200_000], first=1_000)
    assert positions.frame_at(Fraction(2)) == 51_000
    assert positions.frame_at(Fraction(6)) == 201_000
    assert positions.frame_at(Fraction(-2)) == -49_000
    assert positions.frame_at(Fraction(10)) == 401_000


def test_an_excerpt_has_its_own_beats_and_both_ends():
    positions = places([100_000, 200_000, 100_000], first=0)
    part = positions.between(Fraction(2), Fraction(10))
    assert part.beats == tuple(map(Fraction, (0, 2, 6, 8)))
    assert part.frames == (50_000, 100_000, 300_000, 350_000)


def test_another_rate_keeps_the_times():
    positions = places([44_100, 88_200], first=0).at_rate(48_000)
    assert (positions.rate, positions.frames) == (48_000, (0, 48_000, 144_000))


def taps_of(tempo: Rubato, beats: int, spread_s: float, seed: int) -> list[int]:
    random = Random(seed)
    at = tempo.seconds([float(k) for k in range(beats)])
    return [round((5 + second + random.gauss(0, spread_s)) * RATE) for second in at]


@pytest.mark.parametrize("seed", range(6))
def test_taps_with_a_spread_of_30_ms_and_a_missed_one(seed):
    tempo = Rubato(96, 64, 0.15, 17 + seed, seed, 52, 0.7)
    taps = taps_of(tempo, 64, 0.03, seed)
    del taps[20 + seed], taps[41]
    taps.insert(30, taps[30] - 3_000)
    beats = tuple(Fraction(k) for k in range(64))
    found = tapped(taps, beats, RATE)
    off = [
        abs(frame / RATE - 5 - second)
        for frame, second in zip(found.frames, tempo.seconds(list(map(float, beats))), strict=True)
    ]
    off.sort()
    assert off[32] < 0.02
    assert off[60] < 0.06
    assert all(after > before for before, after in pairwise(found.frames))


def test_one_tap_far_astray_moves_nothing():
    tempo = Rubato(100, 32, 0)
    taps = taps_of(tempo, 32, 0, 1)
    beats = tuple(Fraction(k) for k in range(32))
    straight = tapped(taps, beats, RATE)
    taps[15] += RATE // 5
    assert (
        max(
            abs(a - b)
            for a, b in zip(straight.frames, tapped(taps, beats, RATE).frames, strict=True)
        )
        <= 1
    )


def test_taps_on_bar_lines_of_changing_length():
    beats = tuple(map(Fraction, (0, 4, 8, 11, 14, 16, 20, 24)))
    taps = [int(beat * RATE / 2) for beat in beats]
    assert tapped(taps, beats, RATE).frames == tuple(taps)


@pytest.mark.parametrize(("count", "said"), [(3, "too few"), (20, "the taps end at beat 20 of 32")])
def test_taps_that_are_not_enough(count, said):
    beats = tuple(Fraction(k) for k in range(32))
    with pytest.raises(CoachError, match=said):
        tapped([k * 30_000 for k in range(count)], beats, RATE)
