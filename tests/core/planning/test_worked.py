"""What the plan of the day is made from: counts by hand."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from coach.core.planning.facts import Check
from coach.core.planning.worked import loads_of, worked_of

TODAY = 739_000
KNOWN = {"run": ("The run", 100.0)}


@dataclass(frozen=True)
class Row:
    day: int
    tempo_bpm: float = 80.0
    clean: int = 16
    counted: int = 16
    passed: bool = True
    seconds: float = 30.0
    drill: str = "run"
    title: str = "Run"


def test_days_minutes_and_the_length_of_a_take():
    (run,) = worked_of([Row(TODAY - 3), Row(TODAY - 1), Row(TODAY - 1)], KNOWN, TODAY)
    assert (run.name, run.title, run.goal_bpm) == ("run", "The run", 100.0)
    assert (run.days, run.minutes, run.take_s, run.last_day) == (2, 1.5, 30.0, TODAY - 1)
    assert [one.day for one in run.history] == [TODAY - 3, TODAY - 1]
    assert run.low_bpm < run.ceiling_bpm < run.high_bpm


def test_the_first_take_of_a_day_at_the_goal_is_a_check():
    rows = [
        Row(TODAY - 4, tempo_bpm=100, passed=False),
        Row(TODAY - 4, tempo_bpm=100),
        Row(TODAY - 2, tempo_bpm=98),
        Row(TODAY - 1, tempo_bpm=60),
        Row(TODAY - 1, tempo_bpm=100),
    ]
    (run,) = worked_of(rows, KNOWN, TODAY)
    assert run.checks == (Check(TODAY - 4, False), Check(TODAY - 2, True))


def test_what_has_no_goal_or_no_notes_is_left_out():
    rows = [Row(TODAY, drill="other"), Row(TODAY, counted=0, clean=0), Row(TODAY + 1)]
    assert worked_of(rows, KNOWN, TODAY) == ()


def test_minutes_at_the_lips_by_day():
    rows = [Row(TODAY - 1, seconds=90), Row(TODAY, seconds=60), Row(TODAY - 1, seconds=30)]
    assert [(one.day, one.minutes) for one in loads_of(rows)] == [
        (TODAY - 1, pytest.approx(2)),
        (TODAY, pytest.approx(1)),
    ]
