"""Goals, plans, minutes elsewhere and what a teacher set: kept by player and by day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from coach.book.diary import ElsewhereEntry
from coach.book.entries import Owner
from coach.book.practice import PracticeBook
from coach.book.rows import Moment
from coach.core.assignment import Assignment
from coach.core.planning.facts import DayLoad, PlannedDay
from coach.core.planning.goals import Goal
from coach.errors import CoachError

DAY = date(2026, 3, 1).toordinal()
HORN, TRUMPET = "double-horn", "trumpet"


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "book.sqlite"


@pytest.fixture
def on(path, monkeypatch):
    """The book, opened on a day after `DAY`."""
    opened: list[PracticeBook] = []

    def on(days: int) -> PracticeBook:
        day = DAY + days
        moment = Moment(f"{date.fromordinal(day)}T12:{len(opened):02}:00.000Z", day)
        opened.append(PracticeBook(path))
        monkeypatch.setattr(opened[-1], "moment", lambda: moment)
        return opened[-1]

    yield on
    for book in opened:
        book.close()


def test_a_goal_takes_the_place_of_the_one_before(on):
    diary = on(0).diary
    diary.set_goal(Goal("b", HORN, 120.0, DAY + 9))
    diary.set_goal(Goal("a", HORN, 96.0))
    diary.set_goal(Goal("b", TRUMPET, 80.0))
    diary.set_goal(Goal("b", HORN, 132.0))
    a, horn, trumpet = Goal("a", HORN, 96.0), Goal("b", HORN, 132.0), Goal("b", TRUMPET, 80.0)
    diary = on(1).diary
    assert diary.goals() == [a, horn, trumpet]
    assert diary.goals(HORN) == [a, horn]
    assert diary.goals("tuba") == []


def test_a_goal_is_given_up_on_its_instrument_only(on):
    diary = on(0).diary
    diary.set_goal(Goal("b", HORN, 120.0))
    diary.set_goal(Goal("b", TRUMPET, 80.0))
    assert not diary.drop_goal("b", "tuba")
    assert not diary.drop_goal("a", HORN)
    assert diary.drop_goal("b", HORN)
    assert not diary.drop_goal("b", HORN)
    assert diary.goals() == [Goal("b", TRUMPET, 80.0)]


def test_a_goal_that_can_t_be_written_now_does_not_come_by_itself(on, path):
    """Who is told to set it again would find minutes elsewhere twice."""
    book = on(0)
    book._db.execute("PRAGMA query_only = ON")
    with pytest.raises(CoachError, match=r"the goal could not be kept .*COACH_HOME.*try again"):
        book.diary.set_goal(Goal("a", HORN, 96.0))
    assert book.diary.goals() == []
    book._db.execute("PRAGMA query_only = OFF")
    book.diary.set_goal(Goal("b", HORN, 80.0))
    book.close()
    assert book.remarks == ()
    assert on(0).diary.goals() == [Goal("b", HORN, 80.0)]


def test_the_last_plan_of_each_day_is_what_was_planned(on):
    for days, names in ((0, ["a"]), (0, ["a", "b"]), (2, ["c"]), (3, ["now"])):
        on(days).diary.keep_plan(HORN, None, names, {"blocks": names})
    on(2).diary.keep_plan(TRUMPET, None, ["t"], {})
    diary = on(3).diary
    first, second = PlannedDay(DAY, ("a", "b")), PlannedDay(DAY + 2, ("c",))
    assert diary.planned(HORN, 0) == [first, second]
    assert diary.planned(HORN, DAY + 1) == [second]
    assert diary.planned(HORN, DAY + 3) == []
    assert diary.planned(TRUMPET, 0) == [PlannedDay(DAY + 2, ("t",))]
    assert on(4).diary.planned(HORN, DAY + 3) == [PlannedDay(DAY + 3, ("now",))]


def test_a_concert_is_remembered_until_it_is_over(on):
    on(0).diary.keep_plan(HORN, DAY + 5, [], {})
    assert on(0).diary.concert_day(HORN) == DAY + 5
    assert on(5).diary.concert_day(HORN) == DAY + 5
    assert on(6).diary.concert_day(HORN) is None
    assert on(1).diary.concert_day(TRUMPET) is None


def test_the_concert_of_the_last_plan_counts(on):
    on(0).diary.keep_plan(HORN, DAY + 5, [], {})
    on(1).diary.keep_plan(HORN, DAY + 7, [], {})
    assert on(1).diary.concert_day(HORN) == DAY + 7
    on(2).diary.keep_plan(HORN, None, [], {})
    assert on(2).diary.concert_day(HORN) is None


def test_minutes_elsewhere_are_added_up_by_day(on):
    diary = on(3).diary
    for days, minutes, what in ((1, 90.0, "rehearsal"), (0, 20.0, "practice"), (1, 15.5, "lesson")):
        diary.add_elsewhere(DAY + days, minutes, what)
    assert on(3).diary.elsewhere() == [DayLoad(DAY, 20.0), DayLoad(DAY + 1, 105.5)]
    assert on(3).diary.elsewhere(DAY + 1) == [DayLoad(DAY + 1, 105.5)]


def test_the_same_entry_written_twice_counts_once(on):
    book = on(0)
    for _ in range(2):
        ElsewhereEntry("0" * 32, DAY, 30.0, "lesson").write(book._db, Owner(book.player_id()))
    assert book.diary.elsewhere() == [DayLoad(DAY, 30.0)]


FIRST = Assignment(
    "a" * 32, "March", "Mx", "slowly", DAY + 9, (Goal("x", HORN, 80.0), Goal("y", HORN, 90.0))
)


def test_an_assignment_sets_its_goals(on):
    book = on(0)
    book.diary.set_goal(Goal("y", HORN, 60.0))
    book.diary.set_goal(Goal("z", HORN, 70.0))
    book.diary.add_assignment(FIRST)
    assert on(1).diary.assignments() == [FIRST]
    assert on(1).diary.goals() == [*FIRST.goals, Goal("z", HORN, 70.0)]


def test_an_assignment_that_comes_again_is_brought_up_to_date(on):
    later = replace(FIRST, uid="b" * 32, title="April", goals=(Goal("w", HORN, 66.0),))
    on(0).diary.add_assignment(FIRST)
    on(1).diary.add_assignment(later)
    new = replace(
        FIRST, title="March again", words="", due_day=None, goals=(Goal("x", HORN, 84.0, DAY + 3),)
    )
    on(2).diary.add_assignment(new)
    diary = on(2).diary
    assert diary.assignments() == [later, new]  # the one received last is first
    assert diary.goals() == [*later.goals, *new.goals]  # y is set no more


def test_the_player_s_own_goal_outlives_the_assignment(on):
    """Set after it, the goal is no longer the teacher's; the drill is still in the assignment."""
    on(0).diary.add_assignment(FIRST)
    own = Goal("y", HORN, 100.0)
    on(1).diary.set_goal(own)
    (assignment,) = on(1).diary.assignments()
    assert assignment == FIRST
    on(2).diary.add_assignment(replace(FIRST, goals=()))
    assert on(2).diary.goals() == [own]
