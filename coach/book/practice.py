"""The practice book: one sqlite file, one committed transaction a take.

What was kept survives a kill or a power cut (write-ahead log, full synchronisation).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from types import TracebackType

from coach.book.records import take_from_json, take_to_json
from coach.core.exercise import Drill
from coach.core.pace import EarlierTake
from coach.core.report import Report
from coach.core.take import Take
from coach.errors import CoachError

VERSION = 1


@dataclass(frozen=True, slots=True)
class Kept:
    """A take as it was kept: the names of its drill, instrument and rule set beside it."""

    drill: str
    instrument: str
    rules: str
    take: Take


class PracticeBook:
    """Open (and make, if need be) the book at `path`; CoachError if that can't be done."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path)
            self._prepare()
        except (OSError, sqlite3.Error) as error:
            raise CoachError(
                f"the practice book can't be opened ({error})",
                str(path),
                "set COACH_HOME to a folder you can write to",
            ) from None

    def _prepare(self) -> None:
        version = self._db.execute("PRAGMA user_version").fetchone()[0]
        if version > VERSION:
            raise sqlite3.DatabaseError("it was written by a newer coach")
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = FULL")
        if version == 0:
            schema = resources.files("coach.book").joinpath("schema.sql").read_text("utf-8")
            self._db.executescript(f"BEGIN; {schema} PRAGMA user_version = {VERSION}; COMMIT;")
        self._db.execute("BEGIN IMMEDIATE")
        self._db.execute("ROLLBACK")

    def append(self, take: Take, report: Report, drill: Drill) -> None:
        """Keep one finished take for good."""
        row = (
            drill.name,
            take.plan.exercise.passage.title or drill.title,
            drill.instrument,
            drill.rules,
            take.plan.exercise.tempo_bpm,
            len(take.plan.dues),
            report.accuracy,
            int(report.passed),
            take.lost_frames,
            take_to_json(take),
            json.dumps(report.to_dict(), separators=(",", ":")),
        )
        try:
            with self._db:
                self._db.execute(
                    "INSERT INTO takes (drill, title, instrument, rules, tempo_bpm, notes,"
                    " accuracy, passed, lost_frames, take_json, report_json)"
                    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    row,
                )
        except sqlite3.Error as error:
            raise CoachError(f"this take could not be kept ({error})", str(self.path)) from None

    def takes(self, drill: str | None = None) -> list[Take]:
        """The takes kept, oldest first, of one drill or of all."""
        where = "" if drill is None else " WHERE drill = ?"
        rows = self._db.execute(
            f"SELECT take_json FROM takes{where} ORDER BY id", () if drill is None else (drill,)
        )
        return [take_from_json(text) for (text,) in rows]

    def latest(self, count: int, drill: str | None = None) -> list[Kept]:
        """The last `count` takes, oldest first, of one drill or of the drill played last."""
        if drill is None:
            last = self._db.execute("SELECT drill FROM takes ORDER BY id DESC LIMIT 1").fetchone()
            drill = last[0] if last else ""
        rows = self._db.execute(
            "SELECT drill, instrument, rules, take_json FROM takes WHERE drill = ?"
            " ORDER BY id DESC LIMIT ?",
            (drill, count),
        ).fetchall()
        return [
            Kept(name, instrument, rules, take_from_json(text))
            for name, instrument, rules, text in reversed(rows)
        ]

    def drills(self, instrument: str) -> list[str]:
        """The drills practised on the instrument, the last one first."""
        rows = self._db.execute(
            "SELECT drill FROM takes WHERE instrument = ? GROUP BY drill ORDER BY MAX(id) DESC",
            (instrument,),
        )
        return [name for (name,) in rows]

    def days(self, drill: str) -> int:
        """On how many days before today (by the local calendar) it was practised."""
        row = self._db.execute(
            "SELECT COUNT(DISTINCT date(kept_utc, 'localtime')) FROM takes"
            " WHERE drill = ? AND date(kept_utc, 'localtime') < date('now', 'localtime')",
            (drill,),
        ).fetchone()
        return int(row[0])

    def earlier(self, drills: Sequence[str], notes: int) -> list[EarlierTake]:
        """What earlier takes of `notes` notes tell about the ceiling, of these drills, the last
        200."""
        marks = ", ".join("?" * len(drills))
        rows = self._db.execute(
            "SELECT tempo_bpm, report_json, julianday('now') - julianday(kept_utc) FROM takes"
            f" WHERE drill IN ({marks}) AND notes = ? ORDER BY id DESC LIMIT 200",
            (*drills, notes),
        )
        return [_earlier(*row) for row in rows]

    def close(self) -> None:
        self._db.close()

    def __enter__(self) -> PracticeBook:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _earlier(tempo_bpm: float, report_json: str, days_ago: float) -> EarlierTake:
    kinds = [note["verdict"] for note in json.loads(report_json)["notes"]]
    counted = len(kinds) - kinds.count("unsure")
    return EarlierTake(tempo_bpm, kinds.count("clean"), counted, max(0.0, days_ago))
