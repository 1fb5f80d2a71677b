"""The sentence after a take: the right note, the right figure."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from coach.core.advice import advice_for
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Evidence
from coach.core.timeline import plan_take
from coach.core.warp import Warp
from tests.making import RATE, attacks_of, plan_of, scale

EVEN = plan_of(scale(60, 12), tempo_bpm=90)
# Half the tempo from the fifth note on: its notes are twice as many frames long.
SLOWING = Warp(((Fraction(0), Fraction(1)), (Fraction(2), Fraction(1, 2))))


def told(plan, off_ms: dict[int, float]) -> str:
    attacks = [
        replace(a, frame=a.frame + round(off_ms.get(k, 0) * RATE / 1000), due=k)
        for k, a in enumerate(attacks_of(plan))
    ]
    judge = Judge(plan.dues, Rules(), RATE)
    judge.step(Evidence(tuple(attacks), up_to_frame=100 * RATE, resolved=len(plan.dues)))
    return advice_for(judge.report(), plan.exercise)


@pytest.mark.parametrize("warp", [None, SLOWING])
@pytest.mark.parametrize(("off_ms", "kind"), [(60, "late"), (-60, "early")])
def test_how_far_off_a_note_was_does_not_hang_on_the_tempo(warp, off_ms, kind):
    plan = plan_take(replace(EVEN.exercise, warp=warp), RATE, EVEN.downbeat_frame)
    assert told(plan, {9: off_ms}).startswith(f"Note 10 (B5) came 60 ms {kind}: ")


def test_the_worst_of_several_is_named():
    said = told(EVEN, {3: 50, 7: 70})
    assert said.startswith("Note 8 (G5) came 70 ms late, and 1 more with it: prepare it")


def test_what_cost_most_comes_first():
    assert told(EVEN, {}) == "Every note spoke; they lie within 0 ms of even."
