"""What goes into the book.

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
from typing import Any, Protocol

from coach.book.records import packed, passage_digest, passage_to_json, take_to_json
from coach.book.rows import Moment
from coach.core.exercise import Drill
from coach.core.passage import Passage
from coach.core.profile.kinds import Kinds, passage_kinds
from coach.core.profile.tally import Tally
from coach.core.report import Report
from coach.core.take import Take
from coach.core.timeline import Plan

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
class Owner:
    """Whose an entry is: the numbers of the player, and of the session (None: of none)."""

    player: int
    session: int | None = None


class Entry(Protocol):
    """Something ready to be written, all of it or nothing."""

    def write(self, db: sqlite3.Connection, owner: Owner) -> None: ...


@dataclass(frozen=True, slots=True)
class TakeEntry:
    """A take ready to be written, and when it was played; written once, however often it comes: an
    interrupt may fall between the commit and what comes of it."""

    take: Take
    report: Report
    drill: Drill
    tallies: Sequence[Tally]
    moment: Moment
    uid: str

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        there = "SELECT 1 FROM takes WHERE player = ? AND uid = ?"
        if db.execute(there, (owner.player, self.uid)).fetchone():
            return
        take, drill, report = self.take, self.drill, self.report.to_dict()
        exercise = take.plan.exercise
        passage = passage_id(db, drill.name, drill.instrument, exercise.passage)
        set_kinds(db, passage, passage_kinds(exercise.passage, exercise.transposition))
        write_take(
            db,
            {
                "kept_utc": self.moment.utc,
                "day": self.moment.day,
                "uid": self.uid,
                "player": owner.player,
                "session": owner.session,
                "passage": passage,
                "drill": drill.name,
                "title": exercise.passage.title or drill.title,
                "instrument": drill.instrument,
                "rules": drill.rules,
                "tempo_bpm": exercise.tempo_bpm,
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
        db.execute(
            "INSERT OR IGNORE INTO instruments (player, name) VALUES (?, ?)",
            (owner.player, drill.instrument),
        )
        write_tallies(db, owner.player, drill.instrument, self.tallies)


@dataclass(frozen=True, slots=True)
class CeilingEntry:
    """A ceiling ready to be written."""

    drill: Drill
    passage: Passage
    bpms: tuple[float, float, float]
    moment: Moment

    def write(self, db: sqlite3.Connection, owner: Owner) -> None:
        passage = passage_id(db, self.drill.name, self.drill.instrument, self.passage)
        db.execute(
            "INSERT OR REPLACE INTO ceilings"
            " (player, passage, utc, day, estimate_bpm, low_bpm, high_bpm)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (owner.player, passage, self.moment.utc, self.moment.day, *self.bpms),
        )


def write_take(
    db: sqlite3.Connection, figures: dict[str, Any], take_json: str, report_json: str
) -> None:
    """One row of figures (named as the columns) and what was heard."""
    marks = ", ".join("?" * len(figures))
    names, values = ", ".join(figures), tuple(figures.values())
    done = db.execute(f"INSERT INTO takes ({names}) VALUES ({marks})", values)
    db.execute(
        "INSERT INTO evidence (take, take_z, report_z) VALUES (?, ?, ?)",
        (done.lastrowid, packed(take_json), packed(report_json)),
    )


def write_session(
    db: sqlite3.Connection, player: int, command: str, started_utc: str
) -> int | None:
    """The new session's number."""
    return db.execute(
        "INSERT INTO sessions (player, started_utc, command) VALUES (?, ?, ?)",
        (player, started_utc, command),
    ).lastrowid


def write_tallies(
    db: sqlite3.Connection, player: int, instrument: str, tallies: Sequence[Tally]
) -> None:
    """Add to what is there of the same kind, name and day."""
    db.executemany(_ADD_TALLY, [_tally_row(player, instrument, tally) for tally in tallies])


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


def set_kinds(db: sqlite3.Connection, passage: int, kinds: Kinds) -> None:
    """What the passage is an example of, if that is not known yet."""
    db.execute(
        "UPDATE passages SET scale = ?, tonguing = ?, notes_a_click = ?"
        " WHERE id = ? AND notes_a_click = 0",
        (kinds.scale, kinds.tonguing, kinds.notes_a_click, passage),
    )


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


def _tally_row(player: int, instrument: str, tally: Tally) -> tuple[Any, ...]:
    counts = (tally.count, tally.clean, tally.values, tally.total, tally.squares)
    return (player, instrument, tally.kind, tally.name, tally.day, *counts)
