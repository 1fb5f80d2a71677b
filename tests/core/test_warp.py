"""Tempo changes: every beat in one place, exact, and takes remember them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.book.records import take_from_json, take_to_json
from coach.core.timeline import frame_of, plan_take
from coach.core.warp import Warp, ramp, warp_of
from tests.book.making import take_of

F = Fraction
shares = st.fractions(F(1, 4), F(4), max_denominator=12)
lengths = st.fractions(F(1, 8), F(8), max_denominator=8)


@st.composite
def warps(draw):
    places, beat = [F(0)], F(0)
    for length in draw(st.lists(lengths, max_size=5)):
        beat += length
        places.append(beat)
    holds = sorted(set(draw(st.lists(lengths, max_size=3))))
    return Warp(tuple((p, draw(shares)) for p in places), tuple((h, F(1)) for h in holds))


def test_a_slower_half_and_a_fermata_by_hand():
    """Two beats at tempo, then at half tempo, a hold of a beat and a half at beat 3."""
    warp = Warp(((F(0), F(1)), (F(2), F(1, 2))), ((F(3), F(3, 2)),))
    told = [warp.even(F(beat, 2)) for beat in (-2, 0, 4, 5, 6, 7, 8)]
    assert told == [-1, 0, 2, 3, 4, F(13, 2), F(15, 2)]
    assert [warp.share_at(F(beat)) for beat in (0, 1, 2, 9)] == [1, 1, F(1, 2), F(1, 2)]


@given(warps(), st.fractions(F(-4), F(50), max_denominator=8))
def test_it_is_the_sum_of_its_pieces(warp, beat):
    total = min(beat, F(0)) / warp.steps[0][1]
    ends = [place for place, _ in warp.steps[1:]]
    for (place, share), end in zip(warp.steps, [*ends, beat], strict=True):
        total += max(F(0), min(beat, end) - place) / share
    assert warp.even(beat) == total + sum(extra for place, extra in warp.holds if place < beat)


@given(warps(), lengths, lengths)
def test_time_goes_on(warp, beat, more):
    assert warp.even(beat + more) > warp.even(beat)


@given(warps(), lengths)
def test_all_shares_twice_as_high_take_half_the_time_but_for_holds(warp, beat):
    faster = Warp(tuple((place, 2 * share) for place, share in warp.steps))
    assert 2 * faster.even(beat) == Warp(warp.steps).even(beat)


@given(shares, shares, lengths)
def test_a_ramp_takes_about_what_a_smooth_one_takes(share, to_share, length):
    """The integral of dx / (a + (b - a) x / L) is L ln(b / a) / (b - a)."""
    from math import log

    steps = ramp(F(0), length, share, to_share, length / 64)
    warp = Warp((*steps, (length, to_share)))
    a, b = float(share), float(to_share)
    smooth = float(length) / a if a == b else float(length) * log(b / a) / (b - a)
    assert float(warp.even(length)) == pytest.approx(smooth, rel=1e-3)


@pytest.mark.parametrize(
    ("steps", "holds"),
    [
        ((), ()),
        (((F(1), F(1)),), ()),
        (((F(0), F(0)),), ()),
        (((F(0), F(1)), (F(0), F(2))), ()),
        (((F(0), F(1)),), ((F(1), F(0)),)),
        (((F(0), F(1)),), ((F(2), F(1)), (F(1), F(1)))),
    ],
)
def test_what_is_no_warp(steps, holds):
    with pytest.raises(ValueError, match=r"tempo|hold"):
        Warp(steps, holds)


def test_marks_as_shares_of_the_first():
    assert warp_of([(F(0), 96.0)], 96.0) is None
    assert warp_of([], 96.0) is None
    warp = warp_of([(F(0), 96.0), (F(8), 72.0), (F(9), 72.0)], 96.0)
    assert warp == Warp(((F(0), F(1)), (F(8), F(3, 4))))


def test_notes_clicks_and_the_end_follow_it_and_a_take_keeps_it():
    take = take_of()
    warp = Warp(((F(0), F(1)), (F(1), F(2, 3))), ((F(2), F(1, 2)),))
    exercise = replace(take.plan.exercise, warp=warp)
    plan = plan_take(exercise, 48_000, 96_000)
    pulse = exercise.passage.pulse_beats
    for due, note in zip(plan.dues, exercise.passage.notes, strict=True):
        even_s = warp.even(note.start_beats) / pulse * 60 / F(str(exercise.tempo_bpm))
        assert due.frame == 96_000 + round(even_s * 48_000)
    beats = {frame_of(exercise, 48_000, 96_000, F(k)) for k in range(-4, 9)}
    assert {click.frame for click in plan.clicks} <= beats
    assert plan.end_frame == frame_of(exercise, 48_000, 96_000, exercise.passage.length_beats)
    kept = replace(take, plan=plan)
    assert take_from_json(take_to_json(kept)) == kept
