"""What the plan of the day is made from: counts by hand."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from coach.core.planning import Check, DayLoad, Goal
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
    scale: str | None = None
    tonguing: str | None = None
    notes_a_click: float = 4.0


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


@pytest.mark.parametrize("before", ["run-build", "run-next", "run-next-build", "run"])
@pytest.mark.parametrize("counted", [16, 0])
def test_a_take_is_not_cold_after_anything_else_of_the_passage(before, counted):
    """Nor after a take that was not heard."""
    rows = [
        Row(TODAY - 1, drill=before, counted=counted, clean=counted),
        Row(TODAY - 1, tempo_bpm=100),
        Row(TODAY, tempo_bpm=100),
        Row(TODAY, drill=before),
    ]
    (run,) = worked_of(rows, KNOWN, TODAY)
    assert run.checks == (Check(TODAY, True),)


def test_a_first_take_at_the_goal_that_was_not_heard_is_no_check():
    rows = [Row(TODAY, tempo_bpm=100, counted=0, clean=0), Row(TODAY, tempo_bpm=100)]
    assert worked_of(rows, KNOWN, TODAY)[0].checks == ()


@pytest.mark.parametrize("before", ["other", "other-build", "warmup-tones"])
def test_a_take_is_cold_after_something_else(before):
    (run,) = worked_of([Row(TODAY, drill=before), Row(TODAY, tempo_bpm=100)], KNOWN, TODAY)
    assert run.checks == (Check(TODAY, True),)


def test_a_build_is_no_check_but_practice():
    rows = [Row(TODAY - 5), Row(TODAY - 1, drill="run-build", tempo_bpm=100)]
    (run,) = worked_of(rows, KNOWN, TODAY)
    assert (run.checks, run.last_day, run.days) == ((), TODAY - 1, 1)


def test_the_players_own_goal_goes_before_the_one_in_the_file():
    rows = [Row(TODAY, tempo_bpm=100)]
    (run,) = worked_of(rows, KNOWN, TODAY, [Goal("run", "double-horn", 120, TODAY + 5)])
    assert (run.title, run.goal_bpm, run.due_day) == ("The run", 120, TODAY + 5)
    assert run.checks == ()


def test_a_goal_needs_no_drill_file_and_no_take():
    goals = [Goal("etude", "double-horn", 90), Goal("new", "double-horn", 80, TODAY + 5)]
    etude, new = worked_of([Row(TODAY, drill="etude", title="Etude")], {}, TODAY, goals)
    assert (etude.title, etude.goal_bpm, etude.days) == ("Etude", 90, 1)
    assert (new.title, new.ceiling_bpm, new.last_day, new.due_day) == ("new", None, None, TODAY + 5)


def test_what_has_no_goal_or_no_notes_is_left_out():
    rows = [Row(TODAY, drill="other"), Row(TODAY, counted=0, clean=0), Row(TODAY + 1)]
    assert worked_of(rows, KNOWN, TODAY) == ()


def test_minutes_at_the_lips_by_day():
    rows = [Row(TODAY - 1, seconds=90), Row(TODAY, seconds=60), Row(TODAY - 1, seconds=30)]
    assert [(one.day, one.minutes) for one in loads_of(rows)] == [
        (TODAY - 1, pytest.approx(2)),
        (TODAY, pytest.approx(1)),
    ]


def test_minutes_elsewhere_are_added():
    rows, elsewhere = [Row(TODAY, seconds=60)], [DayLoad(TODAY, 20), DayLoad(TODAY - 1, 1500)]
    assert loads_of(rows, elsewhere) == (DayLoad(TODAY - 1, 1440), DayLoad(TODAY, 21))
