"""What goes into the book, and its plain figures as they come out.

What was heard stays in one packed JSON text a take, not in a table of notes.  Measured with 100,000
takes of 30 notes (`python -m tests.benchmarks.book notes`): the book has 437 MB (1.9 GB were the
texts not packed), a table of the 3 million notes would add 233 MB to it and to each of its five
backups, and give the notes of the last 1,000 takes in 66 ms instead of 107 ms.  What is asked of
all notes the tallies answer; and the table would hold one judgement, which new rules make wrong.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coach.book.records import packed, passage_digest, passage_to_json, take_to_json
from coach.core.exercise import Drill
from coach.core.passage import Passage
from coach.core.profile.tally import Tally
from coach.core.report import Report
from coach.core.take import Take
from coach.core.timeline import Plan

PLAYER = 1

# The player's calendar day of a moment in UTC as `date.toordinal` counts it: Julian days begin at
# noon, 1,721,424.5 of them before the day 0.
DAY = "CAST(julianday({utc}, 'localtime', 'start of day') - 1721424.5 AS INTEGER)"

_ADD_TALLY = """
    INSERT INTO tallies
        (player, instrument, kind, name, day, count, clean, n_values, total, squares)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET
        count = count + excluded.count, clean = clean + excluded.clean,
        n_values = n_values + excluded.n_values, total = total + excluded.total,
        squares = squares + excluded.squares
"""


@dataclass(frozen=True, slots=True)
class Kept:
    """A take as it was kept: the names of its drill, instrument and rule set beside it."""

    drill: str
    instrument: str
    rules: str
    take: Take


@dataclass(frozen=True, slots=True)
class TakeRow:
    """The figures of one take.

    `day` is the calendar day as `date.toordinal` counts it; `counted` notes were judged ("unsure"
    left out), `clean` of them were clean; `seconds` go from the downbeat to the end.
    """

    id: int
    day: int
    drill: str
    title: str
    instrument: str
    tempo_bpm: float
    notes: int
    clean: int
    counted: int
    passed: bool
    seconds: float
    offset_ms: float | None
    evenness_cv: float | None


@dataclass(frozen=True, slots=True)
class Ceiling:
    """The fastest clean tempo of a passage as it was estimated on `day`, and how sure: from
    `low_bpm` to `high_bpm`.  `digest` tells versions of the passage apart."""

    day: int
    instrument: str
    notes: int
    digest: str
    estimate_bpm: float
    low_bpm: float
    high_bpm: float


@dataclass(frozen=True, slots=True)
class Moment:
    """Now: in UTC as text, and the player's calendar day."""

    utc: str
    day: int


def now(db: sqlite3.Connection) -> Moment:
    """What sqlite's clock says."""
    day = DAY.format(utc="'now'")
    return Moment(*db.execute(f"SELECT strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), {day}").fetchone())


@dataclass(frozen=True, slots=True)
class TakeEntry:
    """A take ready to be written, and when it was played."""

    take: Take
    report: Report
    drill: Drill
    tallies: Sequence[Tally]
    moment: Moment

    def write(self, db: sqlite3.Connection, session: int | None) -> None:
        take, drill, report = self.take, self.drill, self.report.to_dict()
        passage = take.plan.exercise.passage
        write_take(
            db,
            {
                "kept_utc": self.moment.utc,
                "day": self.moment.day,
                "session": session,
                "passage": passage_id(db, drill.name, drill.instrument, passage),
                "drill": drill.name,
                "title": passage.title or drill.title,
                "instrument": drill.instrument,
                "rules": drill.rules,
                "tempo_bpm": take.plan.exercise.tempo_bpm,
                "notes": len(take.plan.dues),
                "accuracy": self.report.accuracy,
                "passed": int(self.report.passed),
                "lost_frames": take.lost_frames,
                "seconds": playing_seconds(take.plan),
                **report_figures(report),
            },
            take_to_json(take),
            json.dumps(report, separators=(",", ":")),
        )
        db.executemany(_ADD_TALLY, [_tally_row(drill.instrument, t) for t in self.tallies])


@dataclass(frozen=True, slots=True)
class CeilingEntry:
    """A ceiling ready to be written."""

    drill: Drill
    passage: Passage
    bpms: tuple[float, float, float]
    moment: Moment

    def write(self, db: sqlite3.Connection, session: int | None) -> None:
        passage = passage_id(db, self.drill.name, self.drill.instrument, self.passage)
        db.execute(
            "INSERT INTO ceilings (player, passage, utc, day, estimate_bpm, low_bpm, high_bpm)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (PLAYER, passage, self.moment.utc, self.moment.day, *self.bpms),
        )


Entry = TakeEntry | CeilingEntry


def write_take(
    db: sqlite3.Connection, figures: dict[str, Any], take_json: str, report_json: str
) -> None:
    """One row of figures (named as the columns) and what was heard."""
    row = {"player": PLAYER, **figures}
    marks = ", ".join("?" * len(row))
    done = db.execute(f"INSERT INTO takes ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))
    db.execute(
        "INSERT INTO evidence (take, take_z, report_z) VALUES (?, ?, ?)",
        (done.lastrowid, packed(take_json), packed(report_json)),
    )


def write_session(db: sqlite3.Connection, command: str, started_utc: str) -> int | None:
    """The new session's number."""
    return db.execute(
        "INSERT INTO sessions (player, started_utc, command) VALUES (?, ?, ?)",
        (PLAYER, started_utc, command),
    ).lastrowid


def passage_id(db: sqlite3.Connection, drill: str, instrument: str, passage: Passage) -> int:
    """The number of this version of the passage, which is written if it is new."""
    digest = passage_digest(passage)
    key = (drill, instrument, digest)
    found = db.execute(
        "SELECT id FROM passages WHERE drill = ? AND instrument = ? AND digest = ?", key
    ).fetchone()
    if found:
        return int(found[0])
    made = db.execute(
        "INSERT INTO passages (drill, instrument, digest, notes, passage_json)"
        " VALUES (?, ?, ?, ?, ?)",
        (*key, len(passage.notes), passage_to_json(passage)),
    )
    return int(made.lastrowid or 0)


def playing_seconds(plan: Plan) -> float:
    return (plan.end_frame - plan.downbeat_frame) / plan.rate


def report_figures(report: dict[str, Any]) -> dict[str, Any]:
    """What the columns take from a report as plain data."""
    kinds = [note["verdict"] for note in report["notes"]]
    measured = {name: report.get(name) for name in ("offset_ms", "evenness_cv", "spread_ms")}
    return {
        "clean": kinds.count("clean"),
        "counted": len(kinds) - kinds.count("unsure"),
        **measured,
    }


def _tally_row(instrument: str, tally: Tally) -> tuple[Any, ...]:
    counts = (tally.count, tally.clean, tally.values, tally.total, tally.squares)
    return (PLAYER, instrument, tally.kind, tally.name, tally.day, *counts)
