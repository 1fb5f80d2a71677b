"""How long parts and courses take, beside the frames that a session lays out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.course import Course, CoursePart, blowing_s, length_s, resting_s, takes_of, turns
from coach.core.exercise import ClickStyle, Drill, Exercise
from coach.core.filling import Limit, Slot, filled, resting, stretched, with_takes
from coach.core.gate import Gate
from coach.core.passage import Passage, in_a_row
from coach.core.timeline import plan_take

RATE = 48_000


def passage(notes: int = 8, way: str = "played", tempo_share: float = 1.0) -> Passage:
    row = in_a_row([60 + k for k in range(notes)], Fraction(1, 2))
    return Passage(row, way=way, tempo_share=tempo_share)


def part(
    *variants: Passage, takes: int | None = 3, bpm: float = 60.0, rest_s: float = 10.0
) -> CoursePart:
    drill = Drill("d", "d", "", variants or (passage(),), bpm, bpm, rest_beats=4)
    return CoursePart(drill, takes, rest_s, "Because.")


def test_a_part_by_hand():
    """At 60: count-in 4 s, a bar of eighths 4 s; three takes, two pauses of 4 s, rest 10 s."""
    assert length_s(part()) == pytest.approx(3 * (4 + 4 + 0.5) + 2 * 4 + 10)
    assert blowing_s(part()) == pytest.approx(12)
    assert resting_s(part()) == pytest.approx(2 * 4 + 10)
    assert blowing_s(part(), lambda note: note.pitch >= 66) == pytest.approx(3 * 2 * 0.5)
    assert Course("c", (part(), part())).length_s == pytest.approx(2 * length_s(part()))


@given(
    bpm=st.sampled_from([48.0, 60.0, 96.0, 133.0]),
    share=st.sampled_from([0.5, 0.8, 1.0]),
    bars=st.integers(1, 2),
    pulse=st.sampled_from([Fraction(1), Fraction(3, 2)]),
)
def test_takes_last_as_long_as_the_session_plays_them(bpm, share, bars, pulse):
    """The timeline is what a session plays: the same seconds, but half a second to settle."""
    shape = replace(
        passage(tempo_share=share), pulse_beats=pulse, bar_beats=Fraction(3 if pulse > 1 else 4)
    )
    drill = Drill("d", "d", "", (shape,), bpm, bpm, click=ClickStyle(count_in_bars=bars))
    planned = plan_take(Exercise(shape, round(bpm * share, 1), 0, drill.click), RATE, 10 * RATE)
    seconds = (planned.end_frame - planned.start_frame) / RATE
    assert length_s(CoursePart(drill, 1, 0.0, "")) == pytest.approx(seconds + 0.5, rel=2e-3)


def test_turns_with_air_do_not_count_beside_played_ones():
    air, played = passage(way="air"), passage()
    assert [p.way for p in turns(part(air, played, takes=2))] == ["air", "played"] * 2
    assert len(turns(part(air, takes=2))) == 2
    # Air alone leaves the lips in peace.
    assert blowing_s(part(air, played, takes=2)) == pytest.approx(blowing_s(part(played, takes=2)))
    assert resting_s(part(air, takes=1, rest_s=0)) == pytest.approx(4)


def test_without_a_number_the_takes_are_those_of_the_gate():
    """From 60 to 66 by 4 %: 60, 62.4, 64.9, 66 and there it is reached."""
    drill = replace(part().drill, to_bpm=66.0, gate=Gate(step_percent=4))
    assert takes_of(CoursePart(drill, None, 0, "")) == 4


@given(notes=st.integers(1, 24), takes=st.integers(1, 6), ratio=st.sampled_from([0.5, 1.0, 1.5]))
def test_rests_are_as_long_as_asked(notes, takes, ratio):
    made = part(passage(notes), passage(3), takes=1)
    made = replace(made, drill=resting(made.drill, ratio))
    for count in range(1, takes + 1):
        rested = with_takes(made, count, ratio)
        assert rested.takes == count
        assert rested.drill.gate.passes == count
        assert resting_s(rested) >= ratio * blowing_s(rested) - 1e-6


def test_filling_shares_by_what_is_wanted_and_keeps_limits():
    many = Slot(part(), wanted_s=300)
    few = Slot(part(passage(4)), wanted_s=100, rank=1)
    parts = filled([many, few], 400, 1.0)
    total = sum(length_s(p) for p in parts)
    assert 400 - 20 < total <= 400
    assert length_s(parts[0]) / length_s(parts[1]) == pytest.approx(3, rel=0.25)
    limited = filled([many, few], 400, 1.0, [Limit(blowing_s, 20.0)])
    assert sum(blowing_s(p) for p in limited) <= 20
    assert [p.drill for p in filled([many, few], 20, 1.0)] == [
        with_takes(few.part, 1, 1.0).drill
    ], "the higher rank comes first where there is time for one only"
    assert filled([many], 5, 1.0) == ()


def test_what_is_left_goes_to_the_rests():
    parts = (part(), part())
    grown = stretched(parts, sum(length_s(p) for p in parts) + 9)
    assert [p.rest_s for p in grown] == [14, 14]
    assert stretched((), 100) == ()
