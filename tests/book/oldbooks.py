"""Books as older coaches left them."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

from coach.book.records import take_to_json
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.book.making import numbered, take_of

DATA = Path(__file__).parent.parent / "data" / "book"
COLUMNS_1 = (
    "id, kept_utc, drill, title, instrument, rules, tempo_bpm, notes, accuracy, passed,"
    " lost_frames, take_json, report_json"
)


def version_1(path: Path, takes: int = 10) -> Path:
    """A book of version 1, with its log: its schema, and `rows_1`."""
    with closing(_with_schema(path, 1)) as db:
        marks = ", ".join("?" * 13)
        db.executemany(f"INSERT INTO takes ({COLUMNS_1}) VALUES ({marks})", rows_1(takes))
        db.commit()
    return path


def rows_1(takes: int = 10) -> list[tuple]:
    """Takes of two drills at noon of ten days; one more that nobody can read any more."""
    rows = [_row_1(number) for number in range(1, takes + 1)]
    return [*rows, (9999, "2026-04-01T12:00:00.000Z", *rows[0][2:11], "{spoilt", "[]")]


def _row_1(number: int) -> tuple:
    take = numbered(take_of(notes=4 + number % 3), 60 + number)
    report = judge_take(take, Rules())
    return (
        2 * number,  # some have been deleted
        f"2026-03-{1 + number % 10:02}T12:00:00.000Z",
        "even" if number % 2 == 0 else "odd",
        "Title",
        "double-horn",
        "normal",
        60.0 + number,
        len(take.plan.dues),
        report.accuracy,
        int(report.passed),
        take.lost_frames,
        take_to_json(take),
        json.dumps(report.to_dict(), separators=(",", ":")),
    )


def version_2(path: Path, copies: int = 0) -> Path:
    """A book of version 2, with its log: as its coach wrote it, and its six readable takes so many
    times more."""
    with closing(_with_schema(path, 2)) as db:
        columns = [name for _, name, *_ in db.execute("PRAGMA table_info(takes)")][1:]
        for number in range(1, copies + 1):
            more = 10 * number
            names = ", ".join(columns)
            db.execute(
                f"INSERT INTO takes SELECT id + ?, {names} FROM takes WHERE id BETWEEN 6 AND 11",
                (more,),
            )
            db.execute(
                "INSERT INTO evidence SELECT take + ?, take_z, report_z FROM evidence"
                " WHERE take BETWEEN 6 AND 11",
                (more,),
            )
        db.commit()
    return path


def _with_schema(path: Path, version: int) -> sqlite3.Connection:
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    text = (DATA / f"version-{version}.sql").read_text()
    db.executescript(f"BEGIN; {text} PRAGMA user_version = {version}; COMMIT;")
    return db
