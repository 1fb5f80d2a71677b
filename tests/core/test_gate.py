"""The gate moves the tempo only when it should."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core import gate as gating
from coach.core.gate import Gate


def test_up_after_enough_passes_in_a_row():
    gate = Gate(threshold=0.9, passes=2, step_percent=5)
    pace = gating.after_take(gating.start(100, 140), gate, 0.95)
    assert pace.tempo_bpm == 100
    pace = gating.after_take(pace, gate, 0.9)
    assert pace.tempo_bpm == pytest.approx(105)


def test_a_failure_breaks_the_row():
    gate = Gate(passes=2, back_after=3)
    pace = gating.start(100, 140)
    for accuracy in (0.95, 0.5, 0.95):
        pace = gating.after_take(pace, gate, accuracy)
    assert pace.tempo_bpm == 100


def test_back_after_failures_in_a_row():
    gate = Gate(step_percent=4, back_after=2)
    pace = gating.start(104, 140)
    pace = gating.after_take(gating.after_take(pace, gate, 0.2), gate, 0.2)
    assert pace.tempo_bpm == pytest.approx(100)


def test_the_goal_is_reached_by_a_pass_at_the_goal():
    pace = gating.after_take(gating.start(100, 102), Gate(step_percent=4), 1.0)
    assert pace.tempo_bpm == 102
    assert not pace.reached
    assert gating.after_take(pace, Gate(), 1.0).reached


@given(st.lists(st.floats(0, 1), max_size=60), st.floats(20, 200), st.floats(0, 100))
def test_the_tempo_stays_between_half_the_start_and_the_goal(accuracies, start, more):
    pace = gating.start(start, start + more)
    for accuracy in accuracies:
        pace = gating.after_take(pace, Gate(), accuracy)
        assert start / 2 - 0.1 <= pace.tempo_bpm <= start + more + 0.1
