"""The gate's own steps as a pacer do what the gate does."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coach.core import gate as gating
from coach.core.gate import RULES, Gate
from coach.core.pace import make_pacer
from coach.core.pace.steps import StepsPacer


@given(st.lists(st.integers(0, 20), max_size=40), st.integers(1, 3), st.integers(1, 3))
def test_the_same_as_the_gate(counts, passes, back_after):
    gate = Gate(passes=passes, back_after=back_after)
    pacer, pace = StepsPacer(60, 90, gate), gating.start(60, 90)
    for clean in counts:
        pacer.after_take(clean, 20)
        pace = gating.after_take(pace, gate, clean / 20)
        assert pacer.pace == pace


def test_a_take_without_a_judged_note_counts_for_nothing():
    for rule in RULES:
        pacer = make_pacer(60, 90, Gate(rule=rule))
        pacer.after_take(31, 32)
        before = pacer.pace
        pacer.after_take(0, 0)
        assert (pacer.pace, pacer.done) == (before, "")


def test_every_rule_obeys_the_player():
    for rule in RULES:
        pacer = make_pacer(60, 90, Gate(rule=rule))
        pacer.step(1)
        assert pacer.pace.tempo_bpm == 62.4
        pacer.step(-1)
        assert pacer.pace.tempo_bpm == 60


def test_every_rule_reaches_the_goal_by_a_pass_there():
    for rule in RULES:
        pacer = make_pacer(80, 90, Gate(rule=rule))
        takes = 0
        while not pacer.pace.reached and takes < 20:
            before = pacer.pace.tempo_bpm
            pacer.after_take(32, 32)
            takes += 1
        assert (before, pacer.pace.tempo_bpm, pacer.pace.reached) == (90, 90, True)
