"""The system's clock set forward and back, across midnight and daylight saving: days and plans.

Inside a take no such clock is read (tests/test_imports.py): its only one are frames.
"""

from __future__ import annotations

import json
import sqlite3
import time
import zoneinfo
from contextlib import closing
from datetime import UTC, date, datetime, timedelta

import pytest

from coach.book import opening, practice
from coach.book.backup import backup_day, backups
from coach.book.practice import PracticeBook
from coach.book.rows import DAY, Moment
from coach.cli import main
from coach.cli.keeping import Keeper
from coach.cli.record import book_path
from coach.core.exercise import Drill
from coach.core.guide import DrillGuide
from coach.core.instrument import Instrument
from coach.core.judge import judge_take
from coach.core.rules import Rules
from coach.core.take import Take
from coach.core.timeline import plan_take
from coach.files.drillshelf import load_drill
from tests.book.making import filled, spoil
from tests.making import attacks_of

HALF_HOURS = 2 * 24 * 365


class Clock:
    """A clock that goes on by a hundredth of a second at each look, and is set by hand."""

    def __init__(self) -> None:
        self.now = datetime(2027, 3, 10, 18)

    def __call__(self, db: object) -> Moment:
        self.now += timedelta(milliseconds=10)
        utc = f"{self.now.isoformat(timespec='milliseconds')}Z"
        return Moment(utc, self.now.toordinal())


@pytest.fixture
def clock(monkeypatch) -> Clock:
    made = Clock()
    for module in (opening, practice):
        monkeypatch.setattr(module, "now", made)
    return made


@pytest.fixture(scope="module")
def drill() -> tuple[Drill, Instrument]:
    return load_drill("turns")


def session(drill: tuple[Drill, Instrument], clock: Clock, *steps: timedelta) -> None:
    """A take after each step of the clock."""
    turns, horn = drill
    with PracticeBook(book_path()) as book:
        book.begin_session("drill")
        keeper = Keeper(book, horn)
        for number, step in enumerate(steps, 1):
            clock.now += step
            exercise = DrillGuide(turns, horn.transposition).exercise()
            plan = plan_take(exercise, 48_000, 96_000)
            take = Take(number, plan, tuple(attacks_of(plan, {2: 4000})), (), False)
            keeper.append(take, judge_take(take, Rules()), turns)


def test_the_clock_goes_back_and_forth(drill, clock, tmp_path, capsys):
    """Three hours back in a session, across midnight, a week back before the next one, seventy
    years forth, and right again: all takes are there, none is of a day that is not over."""
    hours, minute = timedelta(hours=1), timedelta(minutes=1)
    session(drill, clock, minute, -3 * hours, 9 * hours, minute)
    session(drill, clock, timedelta(days=-7), minute)
    session(drill, clock, timedelta(days=25_000), minute)
    clock.now = datetime(2027, 3, 12, 18)
    session(drill, clock, minute)
    with PracticeBook(book_path()) as book:
        days = [date.fromordinal(row.day).isoformat()[5:] for row in book.take_rows()]
        assert len(days) == 9
        assert days[:6] == ["03-10", "03-10", "03-11", "03-11", "03-04", "03-04"]
        ago = [take.days_ago for take in book.earlier(("turns",), len(drill[0].variants[0].notes))]
        assert len(ago) == 9
        assert min(ago) >= 0
    out = tmp_path / "review.json"
    for command in (["review", "--json", str(out)], ["today", "--minutes", "30"], ["next"]):
        assert main(command) == 0
    assert capsys.readouterr().err == ""
    (passage,) = json.loads(out.read_text())["passages"]
    assert (passage["takes"], passage["last_day"]) == (7, clock.now.toordinal())


def test_a_backup_of_a_day_to_come_is_not_the_newest(clock, tmp_path):
    """Made when the clock was wrong; it neither keeps away today's nor is put in place of it."""
    path = tmp_path / "book.sqlite"
    right = clock.now
    clock.now = datetime(2099, 1, 1)
    filled(path, 3)
    clock.now = right
    filled(path, 30, first=4)
    assert [place.stem[-10:-6] for place in backups(path, right.toordinal())] == ["2027", "2099"]
    assert backup_day(path, right.toordinal()) == right.toordinal()
    spoil(path)
    with PracticeBook(path) as book:
        assert "the backup of 2027-03-10" in book.remarks[0]
        assert len(book.take_rows()) == 33
    for day in range(1, 7):
        clock.now = right + timedelta(days=day)
        filled(path, 1, first=100 + day)
    assert {place.stem[-10:-6] for place in backups(path)} == {"2027"}


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone can't be changed here")
@pytest.mark.parametrize("name", ["Europe/Vienna", "America/Santiago", "Australia/Lord_Howe"])
def test_days_are_the_players_own_all_year_round(name, monkeypatch):
    """Each half hour of 2027 against Python's zones: clocks change at 2 and 3 o'clock, at midnight
    itself (Santiago), and by half an hour (Lord Howe)."""
    try:
        zone = zoneinfo.ZoneInfo(name)
    except zoneinfo.ZoneInfoNotFoundError:
        pytest.skip("no zones here")
    first = datetime(2027, 1, 1, tzinfo=UTC)
    utc = [first + timedelta(minutes=30 * k) for k in range(HALF_HOURS)]
    monkeypatch.setenv("TZ", name)
    time.tzset()
    try:
        with closing(sqlite3.connect(":memory:")) as db:
            sql = f"SELECT {DAY.format(utc='?')}"
            told = [db.execute(sql, (f"{at:%Y-%m-%dT%H:%M:%S.000Z}",)).fetchone() for at in utc]
    finally:
        monkeypatch.undo()
        time.tzset()
    assert [day for (day,) in told] == [at.astimezone(zone).toordinal() for at in utc]
