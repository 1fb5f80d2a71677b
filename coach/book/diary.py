"""What the book holds beside takes: goals, plans, playing elsewhere, what a teacher set."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from coach.book.entries import Owner
from coach.book.rows import Moment
from coach.core.assignment import Assignment
from coach.core.planning.facts import DayLoad, PlannedDay
from coach.core.planning.goals import Goal

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook


class Diary:
    """One player's goals, plans, minutes elsewhere and assignments, in an open book.

    CoachError where the book can't be written now; nothing waits as takes do, for what was said can
    be said again.
    """

    def __init__(self, book: PracticeBook) -> None:
        self._book = book

    def goals(self, instrument: str | None = None) -> list[Goal]:
        """By name of the drill; of one instrument or of all."""
        rows = self._rows(
            "SELECT drill, instrument, goal_bpm, due_day FROM goals WHERE player = ?"
            " ORDER BY drill, instrument"
        )
        return [Goal(*row) for row in rows if instrument in (None, row[1])]

    def set_goal(self, goal: Goal) -> None:
        """In place of the one before."""
        self._keep(GoalEntry(goal, self._book.moment()), "the goal")

    def drop_goal(self, drill: str, instrument: str) -> bool:
        """Whether there was one."""
        there = any(goal.drill == drill for goal in self.goals(instrument))
        if there:
            self._keep(NoGoalEntry(drill, instrument), "that there is no goal")
        return there

    def keep_plan(
        self, instrument: str, concert_day: int | None, names: Sequence[str], plan: dict[str, Any]
    ) -> None:
        """Today's plan, in place of one made earlier today; `names` are the drills in it."""
        data = {"names": list(names), "plan": plan}
        entry = PlanEntry(instrument, concert_day, json.dumps(data), self._book.moment())
        self._keep(entry, "the plan")

    def plan(self, instrument: str) -> dict[str, Any] | None:
        """Today's plan as it was kept, None if none was made."""
        rows = self._rows(
            "SELECT plan_json FROM plans WHERE player = ? AND instrument = ? AND day = ?",
            instrument,
            self._book.today(),
        )
        return json.loads(rows[0][0])["plan"] if rows else None

    def planned(self, instrument: str, since_day: int) -> list[PlannedDay]:
        """The plans of days before today, oldest first: the drills that were in them."""
        rows = self._rows(
            "SELECT day, plan_json FROM plans WHERE player = ? AND instrument = ? AND day >= ?"
            " AND day < ? ORDER BY day",
            instrument,
            since_day,
            self._book.today(),
        )
        return [PlannedDay(day, tuple(json.loads(text)["names"])) for day, text in rows]

    def concert_day(self, instrument: str) -> int | None:
        """The concert of the last plan, if it is not over."""
        rows = self._rows(
            "SELECT concert_day FROM plans WHERE player = ? AND instrument = ?"
            " ORDER BY day DESC LIMIT 1",
            instrument,
        )
        day = rows[0][0] if rows else None
        return day if day is not None and day >= self._book.today() else None

    def add_elsewhere(self, day: int, minutes: float, what: str) -> None:
        """Minutes of playing that the coach did not hear."""
        self._keep(ElsewhereEntry(uuid4().hex, day, minutes, what), "what was played")

    def elsewhere(self, since_day: int = 0) -> list[DayLoad]:
        """Minutes that the coach did not hear, day by day."""
        rows = self._rows(
            "SELECT day, SUM(minutes) FROM elsewhere WHERE player = ? AND day >= ?"
            " GROUP BY day ORDER BY day",
            since_day,
        )
        return [DayLoad(*row) for row in rows]

    def add_assignment(self, assignment: Assignment) -> None:
        """With its goals; one that was there before is brought up to date."""
        self._keep(AssignmentEntry(assignment, self._book.moment()), "the assignment")

    def assignments(self) -> list[Assignment]:
        """The last one received first."""
        rows = self._rows(
            "SELECT uid, title, teacher, words, due_day, goals_json FROM assignments"
            " WHERE player = ? ORDER BY received_utc DESC, id DESC"
        )
        return [
            Assignment(uid, title, teacher, words, due_day, _goals(goals))
            for uid, title, teacher, words, due_day, goals in rows
        ]

    def _rows(self, sql: str, *values: Any) -> list[Any]:
        return self._book.rows(sql, (self._book.player_id(), *values))

    def _keep(self, entry: Any, what: str) -> None:
        self._book.keep(entry, what, waits=False)


def _goals(text: str) -> tuple[Goal, ...]:
    return tuple(Goal(*goal) for goal in json.loads(text))


@dataclass(frozen=True, slots=True)
class GoalEntry:
    goal: Goal
    moment: Moment
    assignment: int | None = None

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        goal = self.goal
        db.execute(
            "INSERT OR REPLACE INTO goals"
            " (player, drill, instrument, goal_bpm, due_day, set_utc, assignment)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (
                owner.player,
                goal.drill,
                goal.instrument,
                goal.goal_bpm,
                goal.due_day,
                self.moment.utc,
                self.assignment,
            ),
        )


@dataclass(frozen=True, slots=True)
class NoGoalEntry:
    drill: str
    instrument: str

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        db.execute(
            "DELETE FROM goals WHERE player = ? AND drill = ? AND instrument = ?",
            (owner.player, self.drill, self.instrument),
        )


@dataclass(frozen=True, slots=True)
class PlanEntry:
    instrument: str
    concert_day: int | None
    plan_json: str
    moment: Moment

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        moment = self.moment
        db.execute(
            "INSERT OR REPLACE INTO plans"
            " (player, instrument, day, made_utc, concert_day, plan_json)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (
                owner.player,
                self.instrument,
                moment.day,
                moment.utc,
                self.concert_day,
                self.plan_json,
            ),
        )


@dataclass(frozen=True, slots=True)
class ElsewhereEntry:
    """Written once, however often it comes."""

    uid: str
    day: int
    minutes: float
    what: str

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        db.execute(
            "INSERT OR IGNORE INTO elsewhere (uid, player, day, minutes, what)"
            " VALUES (?, ?, ?, ?, ?)",
            (self.uid, owner.player, self.day, self.minutes, self.what),
        )


@dataclass(frozen=True, slots=True)
class AssignmentEntry:
    assignment: Assignment
    moment: Moment

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        one = self.assignment
        goals = json.dumps([astuple(goal) for goal in one.goals])
        told = (one.title, one.teacher, one.words, one.due_day, goals)
        db.execute(
            "INSERT INTO assignments"
            " (uid, player, received_utc, title, teacher, words, due_day, goals_json)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
            " ON CONFLICT DO UPDATE SET title = excluded.title, teacher = excluded.teacher,"
            " words = excluded.words, due_day = excluded.due_day,"
            " goals_json = excluded.goals_json",
            (one.uid, owner.player, self.moment.utc, *told),
        )
        ((number,),) = db.execute(
            "SELECT id FROM assignments WHERE player = ? AND uid = ?", (owner.player, one.uid)
        ).fetchall()
        # What the teacher no longer asks for is no goal any more.
        db.execute("DELETE FROM goals WHERE player = ? AND assignment = ?", (owner.player, number))
        for goal in one.goals:
            GoalEntry(goal, self.moment, number).write(db, owner)
