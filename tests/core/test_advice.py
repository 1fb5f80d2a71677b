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


def told(plan, off_ms: dict[int, float], changed: dict[int, dict] | None = None) -> str:
    attacks = [
        replace(
            a,
            frame=a.frame + round(off_ms.get(k, 0) * RATE / 1000),
            due=k,
            **(changed or {}).get(k, {}),
        )
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
    assert said.startswith("Note 8 (G5) came 70 ms late, and 1 more was late: prepare it")
    said = told(EVEN, {3: -50, 5: -40, 7: -70})
    assert said.startswith("Note 8 (G5) came 70 ms early, and 2 more were early: give")


def test_what_cost_most_comes_first():
    assert told(EVEN, {}) == "Every note spoke; they lie within 0 ms of even."


@pytest.mark.parametrize(
    ("change", "one", "two"),
    [
        (
            {"settle_frames": RATE // 30},
            "Note 4 (C5) cracked before it settled: ",
            "Note 4 (C5) and note 8 (G5) cracked before they settled: ",
        ),
        (
            {"level_db": -60.0},
            "Note 4 (C5) did not speak: keep the air moving through it and ",
            "Note 4 (C5) and note 8 (G5) did not speak: keep the air moving through them and ",
        ),
        (
            {"pitch": 63.0},
            "Note 4 (C5) came out as Bb4: sing it, then slur into it before ",
            "Note 4 (C5) and note 8 (G5) came out as other notes (the first as Bb4): sing them,"
            " then slur into them before ",
        ),
    ],
)
def test_one_note_is_it_and_two_are_they(change, one, two):
    assert told(EVEN, {}, {3: change}).startswith(one)
    assert told(EVEN, {}, {3: change, 7: change}).startswith(two)
