"""The week in review: sums by hand, ceilings of players whose clean tempo is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.planning import DayLoad, Goal
from coach.core.review import SHOWN_DAYS, review_of

TODAY = 739_000


@dataclass(frozen=True)
class Row:
    day: int
    drill: str = "run"
    title: str = "Run"
    tempo_bpm: float = 80.0
    clean: int = 16
    counted: int = 16
    seconds: float = 30.0
    passed: bool = True
    scale: str | None = None
    tonguing: str | None = None
    notes_a_click: float = 4.0


def takes(day, ceiling_bpm, count=12, notes=32, seed=1, drill="run"):
    """A player whose notes are clean at 97 % up to the ceiling and fall off steeply above it."""
    random = Random(f"{seed}{day}{drill}")
    made = []
    for k in range(count):
        bpm = ceiling_bpm * (0.85 + 0.3 * k / (count - 1))
        share = 0.97 if bpm <= ceiling_bpm else max(0.3, 0.9 - 3 * (bpm / ceiling_bpm - 1))
        clean = sum(random.random() < share for _ in range(notes))
        made.append(Row(day, drill, drill.title(), bpm, clean, notes))
    return made


def test_a_week_is_seven_days_with_today():
    rows = [Row(TODAY - 7), Row(TODAY - 6), Row(TODAY, clean=8), Row(TODAY)]
    review = review_of(rows, TODAY, {})
    assert (review.week.days, review.week.takes, review.week.minutes) == (2, 3, 1.5)
    assert review.week.clean == pytest.approx(40 / 48)
    assert (review.before.takes, review.before.days) == (1, 1)


def test_minutes_elsewhere_are_told_beside_those_of_the_takes():
    elsewhere = [DayLoad(TODAY - 7, 30), DayLoad(TODAY - 6, 60), DayLoad(TODAY - 1, 30)]
    review = review_of([Row(TODAY)], TODAY, {}, elsewhere=elsewhere)
    assert (review.week.minutes, review.week.elsewhere_minutes) == (0.5, 90)
    assert review.before.elsewhere_minutes == 30
    assert review.to_dict()["week"]["elsewhere_minutes"] == 90


def test_the_players_own_goal_goes_before_the_one_in_the_file():
    goals = [Goal("run", "double-horn", 132, TODAY + 9), Goal("other", "double-horn", 60)]
    (run,) = review_of([Row(TODAY)], TODAY, {"run": ("The run", 120.0)}, goals).passages
    assert (run.title, run.goal_bpm, run.due_day) == ("The run", 132, TODAY + 9)
    (run,) = review_of([Row(TODAY)], TODAY, {}, goals).passages
    assert (run.title, run.goal_bpm) == ("Run", 132)


def test_ceilings_of_scales_are_told():
    rows = [replace(row, scale="G major") for row in takes(TODAY, 90)]
    review = review_of(rows, TODAY, {})
    assert review.to_dict()["ceilings"]["scales"]["G major"]["notes_a_second"] == pytest.approx(
        review.passages[0].ceiling_bpm * 4 / 60, abs=0.01
    )


def test_nothing_played():
    review = review_of([], TODAY, {})
    assert (review.passages, review.week.clean) == ((), None)
    assert review_of([Row(TODAY, counted=0, clean=0)], TODAY, {}).passages == ()


def test_the_ceiling_and_what_was_gained():
    rows = [*takes(TODAY - 9, 80), *takes(TODAY - 1, 96)]
    (run,) = review_of(rows, TODAY, {"run": ("The run", 120.0)}).passages
    assert run.ceiling_bpm == pytest.approx(96, rel=0.06)
    assert run.before_bpm == pytest.approx(80, rel=0.06)
    assert run.gained_percent == pytest.approx(20, abs=8)
    assert run.low_bpm < run.ceiling_bpm < run.high_bpm
    assert (run.title, run.goal_bpm) == ("The run", 120)


def test_what_is_new_has_no_week_before():
    (run,) = review_of(takes(TODAY, 90), TODAY, {}).passages
    assert (run.before_bpm, run.gained_percent, run.goal_bpm) == (None, None, None)


def test_the_last_one_played_comes_first_and_old_ones_are_left_out():
    rows = [
        *takes(TODAY - SHOWN_DAYS, 80, drill="old"),
        *takes(TODAY - 3, 80, drill="scale"),
        *takes(TODAY - 1, 80, drill="turns"),
    ]
    assert [one.drill for one in review_of(rows, TODAY, {}).passages] == ["turns", "scale"]


def test_the_interval_holds_the_ceiling_as_often_as_it_says():
    held = 0
    for seed in range(40):
        (run,) = review_of(takes(TODAY, 90, 20, seed=seed), TODAY, {}).passages
        held += run.low_bpm * 0.98 <= 90 <= run.high_bpm * 1.02
    assert held >= 32


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 16)), max_size=20))
def test_every_counted_take_is_in_one_week_at_most(pairs):
    rows = [Row(TODAY - ago, clean=clean) for ago, clean in sorted(pairs, reverse=True)]
    review = review_of(rows, TODAY, {})
    assert review.week.takes + review.before.takes == sum(ago < 14 for ago, _ in pairs)
    assert review.to_dict()["today"] == TODAY
