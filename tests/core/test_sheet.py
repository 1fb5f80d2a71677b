"""What stands on a sheet."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Passage, in_a_row
from coach.core.sheet import (
    DAYS,
    MOST_BOXES,
    PlanLine,
    boxes,
    drills_of,
    one_line,
    opening,
    sheet_of,
    tempo_mark,
    two_lines,
)
from coach.files.building import load_building
from coach.files.drillshelf import load_drill


def _passage(fingerings, pitches=None) -> Passage:
    row = in_a_row(pitches or [60 + k for k in range(len(fingerings))], Fraction(1, 4))
    notes = (replace(n, fingering=f) for n, f in zip(row, fingerings, strict=True))
    return Passage(tuple(notes))


def test_an_exchange_lifts_one_valve_and_presses_another():
    line = PlanLine("", _passage(["1", "2", "12", "1", "T2", "T2"]))
    assert line.exchanges == {1, 4}


def test_after_a_rest_there_is_time_to_change():
    passage = _passage(["1", "2"])
    later = replace(passage.notes[1], start_beats=Fraction(2))
    assert not PlanLine("", replace(passage, notes=(passage.notes[0], later))).exchanges


@pytest.mark.parametrize(
    ("pulse", "value", "dots"),
    [
        (Fraction(1), "quarter", 0),
        (Fraction(3, 2), "quarter", 1),
        (Fraction(2), "half", 0),
        (Fraction(1, 2), "eighth", 0),
        (Fraction(5, 2), "", 0),
    ],
)
def test_the_note_of_the_tempo_lasts_one_click(pulse, value, dots):
    mark = tempo_mark(pulse, 120)
    assert (mark.value, mark.dots) == (value, dots)


@given(st.floats(20, 400), st.floats(20, 400))
def test_boxes_rise_to_the_goal(first, goal):
    bpms = boxes(first, goal)
    assert bpms[-1] == goal
    assert len(bpms) <= MOST_BOXES
    if first >= goal:
        assert bpms == (goal,) * DAYS
    else:
        assert all(a < b for a, b in itertools.pairwise(bpms))


def test_the_opening_ends_with_the_bar():
    passage = Passage(in_a_row([60, 62, 64], Fraction(3, 2)), bar_beats=Fraction(4))
    short = opening(passage)
    assert [n.length_beats for n in short.notes] == [Fraction(3, 2), Fraction(3, 2), Fraction(1)]
    assert short.length_beats == 4


def test_another_way_stands_in_brackets_only_where_it_differs():
    passage = _passage([None] * 3)
    ways = [["0", "1", "2"], ["0", "T1", "2"]]
    (line,), words = one_line(passage, ways, close=True)
    assert line.alternates == (None, "T1", None)
    assert [n.fingering for n in line.passage.notes] == ways[0]
    assert "try both" in words[0]
    assert "try both" not in one_line(passage, ways, close=False)[1][0]


def test_with_one_way_there_are_no_brackets():
    (line,), words = one_line(_passage([None]), [["0"]], close=False)
    assert line.alternates == ()
    assert not words


def test_two_plans_are_marked_where_they_differ():
    lines, _ = two_lines(_passage([None] * 3), [["0", "1", "2"], ["0", "T1", "2"]], close=True)
    assert [line.label for line in lines] == ["Plan A", "Plan B"]
    assert [line.overlined for line in lines] == [{1}, {1}]
    assert [n.fingering for n in lines[1].passage.notes] == ["0", "T1", "2"]


def test_drills_lead_to_the_goal_and_slow_practice_stays_slow():
    drill, instrument = load_drill("written-out")
    settings = load_building()
    made = {d.name: d for d in drills_of(drill, instrument, drill.variants[0], 120, settings)}
    assert len(made) >= 6
    assert all(each.bar.notes and each.how for each in made.values())
    slow = made.pop("slow, with full air")
    assert slow.bpms[-1] == 120 * settings.slow_share
    assert {each.bpms[-1] for each in made.values()} == {120}


def test_the_exchange_is_explained_only_where_there_is_one():
    drill, instrument = load_drill("written-out")
    quiet, moving = _passage(["0"] * 4), _passage(["1", "2", "1", "2"])
    settings = load_building()
    legends = [
        sheet_of(drill, instrument, [PlanLine("", p)], 120, settings).legend
        for p in (quiet, moving)
    ]
    assert legends[0] == ()
    assert "one valve goes up while another goes down" in legends[1][0]
