"""Records, and books full of them, for the tests of sharing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

from coach.book.leaving import ExportChoice, Leaving
from coach.book.practice import PracticeBook
from coach.cli.keeping import Keeper
from coach.cli.sharing import header
from coach.core.assignment import Assignment
from coach.core.exercise import Drill, Exercise
from coach.core.judge import judge_take
from coach.core.passage import Note, Passage
from coach.core.planning.goals import Goal
from coach.core.rules import Rules
from coach.core.take import Attack, Gap, Take
from coach.core.timeline import plan_take
from coach.files.configs import load_instrument

Record = dict[str, Any]


def played(random: Random, notes: int = 12, rate: int = 48_000) -> Take:
    """Syllables, slurs and no fingerings, played as people play: late, muffled, missed, twice."""
    passage = _passage(random, notes)
    plan = plan_take(Exercise(passage, random.uniform(50, 140), -7), rate, 2 * rate)
    followed = random.random() < 0.5
    attacks = []
    for due in plan.dues:
        if random.random() < 0.1:
            continue
        attacks.append(
            Attack(
                due.frame + round(random.gauss(200, 700)),
                due.pitch + random.gauss(0, 0.1) if random.random() < 0.9 else due.pitch + 5.0,
                random.gauss(-20, 4),
                random.randint(200, 900),
                random.choice([0, 0, 0, 1500]),
                random.choice([None, round(random.gauss(0, 400))]),
                random.random() < 0.7,
                random.random(),
                due.index if followed else None,
                random.random() if followed else None,
            )
        )
    gaps = (Gap(plan.dues[0].frame - 100, 300),) if random.random() < 0.3 else ()
    return Take(random.randint(1, 5), plan, tuple(attacks), gaps, followed, 3 * len(gaps))


def _passage(random: Random, count: int) -> Passage:
    at, notes = Fraction(0), []
    for place in range(count):
        length = random.choice([Fraction(1, 4), Fraction(1, 4), Fraction(1, 3), Fraction(1)])
        slurred = place > 0 and random.random() < 0.3
        syllable = None if slurred else random.choice(["ta", "ka", None])
        notes.append(Note(random.randint(48, 72), at, length, slurred, syllable))
        at += length
    return Passage(tuple(notes), "A line = new")


def keep_some(book: PracticeBook, takes: int, random: Random, names: str = "ab") -> None:
    """Takes of invented drills, in a session, with all that is counted of them."""
    keeper = Keeper(book, load_instrument("double-horn"))
    book.begin_session("drill")
    for number in range(takes):
        name = names[number % len(names)]
        take = played(random)
        drill = Drill(name, f"Drill {name}", "", (take.plan.exercise.passage,))
        report = replace(judge_take(take, Rules()), origin_frame=take.plan.downbeat_frame)
        report = replace(report, passed=report.accuracy > 0.5)
        keeper.append(take, report, drill)
        if number % 2:
            book.add_ceiling(drill, take.plan.exercise.passage, 90.25 + number, 80.0, 100.125)


def fill(path: Path, takes: int = 8, seed: int = 1) -> None:
    """A book with something of everything."""
    with PracticeBook(path) as book:
        keep_some(book, takes, Random(seed))
        diary, today = book.diary, book.today()
        diary.set_goal(Goal("a", "double-horn", 131.5, today + 9))
        diary.add_elsewhere(today, 42.5, "rehearsal")
        diary.add_elsewhere(today, 42.5, "rehearsal")
        diary.keep_plan("double-horn", today + 30, ["a", "b"], {"why": "a is weaker"})
        goal = Goal("b", "double-horn", 100.0, None)
        diary.add_assignment(Assignment("ab" * 16, "For you", "T", "Slow\nfirst", None, (goal,)))


def leaving_records(path: Path, choice: ExportChoice | None = None) -> Iterator[Record]:
    """All that a book exports, without drill files."""
    with PracticeBook(path) as book:
        leaving = Leaving(book, choice or ExportChoice())
        yield header(book.moment().utc, "export", leaving.player(), None)
        for part in ("passages", "sessions", "assignments", "goals", "take_records", "ceilings"):
            yield from getattr(leaving, part)()
        yield from leaving.elsewhere()
        yield from leaving.plans()


# What each table tells of one player, without the numbers that only one book knows.
_TELL = {
    "takes": "SELECT takes.uid, kept_utc, day, sessions.started_utc, digest, takes.drill, title,"
    " takes.instrument, rules, tempo_bpm, takes.notes, clean, counted, accuracy, passed,"
    " lost_frames, seconds, offset_ms, evenness_cv, spread_ms, take_z, report_z FROM takes"
    " JOIN evidence ON take = takes.id LEFT JOIN passages ON passages.id = passage"
    " LEFT JOIN sessions ON sessions.id = session WHERE takes.player = ?",
    "sessions": "SELECT started_utc, command, ended_utc, ended FROM sessions WHERE player = ?",
    "ceilings": "SELECT drill, instrument, digest, utc, day, estimate_bpm, low_bpm, high_bpm"
    " FROM ceilings JOIN passages ON passages.id = passage WHERE player = ?",
    "tallies": "SELECT instrument, kind, name, day, count, clean, n_values, total, squares"
    " FROM tallies WHERE player = ?",
    "goals": "SELECT drill, instrument, goal_bpm, goals.due_day, set_utc, uid FROM goals"
    " LEFT JOIN assignments ON assignments.id = assignment WHERE goals.player = ?",
    "assignments": "SELECT uid, title, teacher, words, due_day, received_utc FROM assignments"
    " WHERE player = ?",
    "plans": "SELECT instrument, day, made_utc, concert_day, plan_json FROM plans WHERE player = ?",
    "elsewhere": "SELECT uid, day, minutes, what FROM elsewhere WHERE player = ?",
    "instruments": "SELECT name, chosen FROM instruments WHERE player = ?",
}


def told(path: Path, player: str = "player") -> dict[str, list[Any]]:
    """All that the book holds of that player, and the versions of passages."""
    with closing(sqlite3.connect(path)) as db:
        ((number,),) = db.execute("SELECT id FROM players WHERE name = ?", (player,)).fetchall()
        found = {name: sorted(db.execute(sql, (number,)), key=repr) for name, sql in _TELL.items()}
        found["passages"] = sorted(
            db.execute(
                "SELECT drill, instrument, digest, notes, passage_json, scale, tonguing,"
                " notes_a_click FROM passages"
            ),
            key=repr,
        )
    return found
