"""Thirty days of one player, through `coach today`, `drill`, `goal`, `played`, `review` and
`fingering`: a week's day off, one missed day, a concert on the 28th."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import fmean
from typing import Any

import pytest

from coach.book.backup import KEPT, backups
from coach.book.practice import PracticeBook
from coach.book.rows import TakeRow
from coach.core.fingering.moves import move_between
from coach.files.planning import load_planning
from tests.cli.month import FIRST, Day, Month, crosses, learner, living, notes_of

DAY_OFF, MISSED, CONCERT_TOLD, CONCERT, LAST = 7, 10, 13, 28, 30
REHEARSALS = {5: 4.0, 20: 12.0}
CONCERT_MINUTES, LIGHT_DAYS = 10.0, 2
PLANNING = load_planning()
LOAD = PLANNING.load
DRILL = """
title = "{title}"
[passage]
notes = [{notes}]
[tempo]
from = 60
to = {goal}
"""
UP = ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5", "D5", "E5", "F5", "G5"]
RUN = [*UP, *UP[::-1]]
DRILLS = {
    "run": DRILL.format(title="Run", goal=130, notes=notes_of(lambda k: f"{RUN[k % 24]} 1/8", 48)),
    "skips": DRILL.format(
        title="Skips", goal=104, notes=notes_of(lambda k: f"{RUN[(k + 2 * (k % 2)) % 24]} 1/8", 48)
    ),
    "trill": DRILL.format(
        title="Trill", goal=84, notes=notes_of(lambda k: ("Eb5 1/8 T1", "Db5 1/8 T23")[k % 2], 32)
    ),
    # Never practised: its usual plan has B-flat 2+3 before 1, where 1 could stay down.
    "line": DRILL.format(
        title="Line",
        goal=110,
        notes=notes_of(
            lambda k: f"{['Ab4', 'Bb4', 'C5', 'Ab4', 'Db5', 'Eb5', 'C5', 'Db5'][k]} 1/16", 8
        ),
    ),
}


@dataclass
class Lived:
    """The month as it was, and what the coach tells at its end."""

    month: Month
    began_bpm: dict[str, float]
    first: dict[str, Any]
    review: dict[str, Any]
    page: str
    screen: str
    fingers_before: list[str]
    fingers_after: list[str]
    had_not_missed: Day
    rows: list[TakeRow]

    def days(self) -> Iterator[Day]:
        return iter(self.month.days.values())

    def blocks(self, name: str) -> Iterator[dict[str, Any]]:
        return (b for day in self.days() for b in day.plan["blocks"] if b["name"] == name)

    def true_bpm(self, name: str) -> float:
        return self.month.players[name].ceiling_bpm()

    def found(self, name: str) -> dict[str, Any]:
        return next(one for one in self.review["passages"] if one["drill"] == name)

    def found_at_first(self, name: str) -> float:
        return next(one["ceiling_bpm"] for one in self.first["passages"] if one["drill"] == name)

    def cold_days(self, name: str) -> list[int]:
        """On which the first take of it was at the goal."""
        first: dict[int, TakeRow] = {}
        for row in self.rows:
            if row.drill == name:
                first.setdefault(row.day - FIRST.toordinal() + 1, row)
        goal_bpm = self.found(name)["goal_bpm"]
        return [day for day, row in first.items() if row.tempo_bpm >= 0.97 * goal_bpm]

    def minutes_on(self, number: int, *, heard: bool = False) -> float:
        """At the lips, with the coach (`heard`) or in all."""
        day = FIRST.toordinal() + number - 1
        minutes = sum(row.seconds for row in self.rows if row.day == day) / 60
        there = self.month.days.get(number)
        return minutes + (there.elsewhere + there.afterwards if there and not heard else 0.0)


@pytest.fixture(scope="module")
def lived(tmp_path_factory) -> Iterator[Lived]:
    home = tmp_path_factory.mktemp("month") / "home"
    players = {
        "run": learner(84.0, 0.3, 48),
        "skips": learner(72.0, 0.3, 48),
        "trill": learner(96.0, 0.05, 32),
    }
    began = {name: one.ceiling_bpm() for name, one in players.items()}
    with living(home, players, DRILLS) as month:
        fingers_before = fingering(month)
        for name in players:
            month.drill(name, 60, 84, 6)
        first = month.asked("review")
        month.coach("goal", "run", 112, "--by", FIRST.replace(day=FIRST.day + CONCERT - 1))
        had_not_missed = None
        for number in range(2, LAST + 1):
            month.clock.day = number
            if number == MISSED + 1:
                had_not_missed = in_another_life(month)
            live(month, number)
        page = home / "review.html"
        month.coach("review", "--html", page)
        with PracticeBook(home / "practice.sqlite") as book:
            rows = book.take_rows()
        yield Lived(
            month,
            began,
            first,
            month.asked("review"),
            page.read_text(),
            month.coach("review"),
            fingers_before,
            fingering(month),
            had_not_missed,
            rows,
        )


def live(month: Month, number: int) -> None:
    if number % DAY_OFF == 0 and number != CONCERT:
        return
    told = ("--concert", FIRST.replace(day=FIRST.day + CONCERT - 1))
    day = month.today(
        *(told if number == CONCERT_TOLD else ()), elsewhere=REHEARSALS.get(number, 0.0)
    )
    if number != MISSED:
        month.practise(day)
    if number == CONCERT:
        month.coach("played", CONCERT_MINUTES, "--what", "concert")
        day.afterwards = CONCERT_MINUTES


def in_another_life(month: Month) -> Day:
    """The plan of the day after, had the missed day been played; all as before afterwards."""
    home, kept = month.home, month.home.with_name("kept")
    shutil.copytree(home, kept)
    days, players, takes = dict(month.days), dict(month.players), month.takes
    month.players.update({name: copied(one) for name, one in players.items()})
    month.clock.day = MISSED
    month.practise(Day(MISSED, days[MISSED].plan))
    month.clock.day = MISSED + 1
    day = month.today()
    shutil.rmtree(home)
    kept.rename(home)
    month.days, month.players, month.takes = days, players, takes
    return day


def copied(one: Any) -> Any:
    return type(one)(**vars(one))


def fingering(month: Month) -> list[str]:
    found = month.asked("fingering", "line")
    return [note["fingering"] for note in found["plans"][0]["notes"]]


def crossings(fingers: list[str]) -> int:
    return sum(crosses(move_between(*pair)) for pair in pairwise(fingers))


def test_the_ceilings_found_grow_and_end_where_the_player_is(lived):
    for name in ("run", "skips"):
        assert lived.true_bpm(name) > 1.15 * lived.began_bpm[name]
        assert lived.found(name)["ceiling_bpm"] > 1.1 * lived.found_at_first(name)
        assert lived.found(name)["ceiling_bpm"] == pytest.approx(lived.true_bpm(name), rel=0.04)
    # Never tried above its goal, the trill is known with less certainty, and that is said.
    trill = lived.found("trill")
    assert trill["low_bpm"] < lived.true_bpm("trill") < trill["high_bpm"]
    assert trill["high_bpm"] - trill["low_bpm"] > 10


def test_the_goal_that_was_set_is_aimed_at(lived):
    """112 instead of the drill's 130; the others as their files have it."""
    goals = {one["drill"]: one["goal_bpm"] for one in lived.review["passages"]}
    assert goals == {"run": 112, "skips": 104, "trill": 84}
    aims = {b["aim_bpm"] for b in lived.blocks("run") if b["kind"] == "build"}
    assert aims == {112}


def test_the_plan_after_a_missed_day_differs_and_says_so(lived):
    missed, other = lived.month.days[MISSED + 1].plan, lived.had_not_missed.plan
    assert missed["why"].startswith("Yesterday was missed: ")
    assert "missed" not in other["why"]
    assert missed["blocks"] != other["blocks"]
    told = [day.number for day in lived.days() if "missed" in day.plan["why"].lower()]
    assert told == [MISSED + 1]


def test_a_passage_at_its_goal_is_played_cold_at_growing_gaps(lived):
    """Until the concert is told: then more often, never further apart than its share of the days
    that are left (configs/planning.toml), and a day off."""
    cold = lived.cold_days("trill")
    gaps = [b - a for a, b in pairwise(day for day in cold if day < CONCERT_TOLD)]
    assert gaps[0] == 1
    assert gaps == sorted(gaps)
    assert gaps[-1] >= 4
    for before, day in pairwise(day for day in cold if CONCERT_TOLD <= day <= CONCERT):
        most = max(1, PLANNING.gaps.concert_share * (CONCERT - before))
        assert day - before <= most + 2, (before, day)


def test_no_day_is_over_its_allowance(lived):
    """Played with the coach and away from it, no more than the plan had, and that no more than the
    usual day and its growth; after six days that were all above half of it, half."""
    minutes = {day: lived.minutes_on(day) for day in range(1, LAST + 1)}
    for day in lived.days():
        before = [minutes[day.number - k] for k in range(1, min(29, day.number))]
        played = [one for one in before if one > 0]
        if len(played) < LOAD.fewest_days:
            most = LOAD.most_minutes
        else:
            most = (1 + LOAD.growth) * fmean(played)
            if len(before) >= 6 and min(before[:6]) > LOAD.light_share * fmean(played):
                most = LOAD.light_share * fmean(played)
        left = max(0.0, max(most, LOAD.least_minutes) - day.elsewhere)
        assert day.plan["playing_minutes"] <= left + 0.1, day.number
        assert lived.minutes_on(day.number, heard=True) <= day.plan["playing_minutes"] + 0.1
    assert minutes[5] > 0
    assert lived.month.days[5].plan["playing_minutes"] < lived.month.days[4].plan["playing_minutes"]


def test_the_days_before_the_concert_are_light(lived):
    usual = fmean(d.plan["playing_minutes"] for d in lived.days() if d.number < CONCERT_TOLD)
    for number in range(CONCERT - LIGHT_DAYS, CONCERT):
        plan = lived.month.days[number].plan
        assert 0 < plan["playing_minutes"] <= 0.5 * usual + 0.5  # blocks have whole minutes
        assert {block["kind"] for block in plan["blocks"]} <= {"keep", "check"}
    assert lived.month.days[LAST].plan["playing_minutes"] > 0.5 * usual


def test_slow_fingers_turn_up_in_the_profile_and_change_the_fingering(lived):
    moves = lived.review["profile"]["moves"]
    slow = {name for name, move in moves.items() if (move["lag_ms"]["value"] or 0) > 20}
    assert slow == {"1>23", "23>1"}
    weak = {words.split(":")[0] for words in lived.review["weak"]}
    assert {"1 up and 2+3 down", "2+3 up and 1 down"} <= weak
    before, after = (crossings(one) for one in (lived.fingers_before, lived.fingers_after))
    assert (before, after) == (1, 0)


def test_the_review_tells_it_on_the_screen_and_as_a_page(lived):
    for text in (lived.screen, lived.page):
        for title in ("Run", "Skips", "Trill"):
            assert title in text
    assert "1 up and 2+3 down" in lived.screen
    assert lived.review["week"]["elsewhere_minutes"] == CONCERT_MINUTES


def test_the_book_is_sound_at_the_end(lived):
    path = lived.month.home / "practice.sqlite"
    assert len(lived.rows) == lived.month.takes
    made = backups(path)
    days = sorted({row.day for row in lived.rows})[-KEPT:]
    assert [date.fromisoformat(one.stem[-10:]).toordinal() for one in made] == days[::-1]
    for place in (path, *made):
        with closing(sqlite3.connect(place)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    with closing(sqlite3.connect(path)) as db:
        ended = db.execute("SELECT DISTINCT ended FROM sessions").fetchall()
    assert ended == [("done",)]
