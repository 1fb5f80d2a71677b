"""A book of version 1, made by the schema that version 1 had, comes over with nothing lost."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from coach.book import schema
from coach.book.practice import PracticeBook
from coach.book.records import take_to_json, unpacked
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.book.making import keep, numbered, take_of

VERSION_1 = Path(__file__).parent.parent / "data" / "book" / "version-1.sql"
COLUMNS = (
    "id, kept_utc, drill, title, instrument, rules, tempo_bpm, notes, accuracy, passed,"
    " lost_frames, take_json, report_json"
)


def old_rows() -> list[tuple]:
    """Takes of two drills at noon of ten days; one that nobody can read any more."""
    rows = []
    for number in range(1, 11):
        take = numbered(take_of(notes=4 + number % 3), 60 + number)
        report = judge_take(take, Rules())
        rows.append(
            (
                2 * number,  # some have been deleted
                f"2026-03-{number:02}T12:00:00.000Z",
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
        )
    return [*rows, (99, "2026-04-01T12:00:00.000Z", *rows[0][2:11], "{spoilt", "[]")]


@pytest.fixture
def path(tmp_path) -> Path:
    """A book of version 1, with its log."""
    path = tmp_path / "book.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.executescript(f"BEGIN; {VERSION_1.read_text()} PRAGMA user_version = 1; COMMIT;")
        marks = ", ".join("?" * 13)
        db.executemany(f"INSERT INTO takes ({COLUMNS}) VALUES ({marks})", old_rows())
        db.commit()
    return path


def rows_of_version_1(path: Path) -> list[tuple]:
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        return db.execute(f"SELECT {COLUMNS} FROM takes ORDER BY id").fetchall()


def rows_now(path: Path) -> list[tuple]:
    plain = COLUMNS.replace("take_json, report_json", "take_z, report_z")
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        rows = db.execute(f"SELECT {plain} FROM takes JOIN evidence ON take = id ORDER BY id")
        return [(*row[:-2], unpacked(row[-2]), unpacked(row[-1])) for row in rows]


def test_nothing_is_lost(path):
    with PracticeBook(path) as book:
        assert book.remarks == ()
        assert book._db.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert rows_now(path) == old_rows()


def test_a_copy_of_the_old_book_lies_beside_it(path):
    PracticeBook(path).close()
    assert rows_of_version_1(path.with_name("book-version-1.sqlite")) == old_rows()


def test_old_takes_have_their_figures(path):
    with PracticeBook(path) as book:
        assert book.drills("double-horn") == ["odd", "even"]
        assert book.days("even") == 5
        rows = book.take_rows()
        takes = book.takes("even")
        assert book.tallies("double-horn") == []
        assert len(book.earlier(("even",), len(takes[0].plan.dues))) >= 1
        keep(book)
        assert book.take_rows()[-1].id == 100
    by_tempo = {row.tempo_bpm: row for row in rows}
    for take in takes:
        row, report = by_tempo[take.plan.exercise.tempo_bpm], judge_take(take, Rules())
        assert row.clean == report.counts["clean"]
        assert row.counted == len(take.plan.dues) - report.counts.get("unsure", 0)
        assert row.seconds > 1
        assert row.offset_ms == pytest.approx(report.offset_ms, abs=0.01)
    spoilt = rows[-1]
    assert (spoilt.id, spoilt.clean, spoilt.counted) == (99, 0, 0)


def test_two_coaches_that_bring_it_over_at_once(path, monkeypatch):
    """The other one is done between this one's look at the version and its turn to write."""
    whole, others = schema.transaction, []

    def overtaken(db):
        if not others:
            others.append(path)
            PracticeBook(path).close()
        return whole(db)

    monkeypatch.setattr(schema, "transaction", overtaken)
    with PracticeBook(path) as book:
        assert others
        assert book.remarks == ()
    assert rows_now(path) == old_rows()
    assert rows_of_version_1(path.with_name("book-version-1.sqlite")) == old_rows()


def test_a_disk_that_fills_up_on_the_way_leaves_the_old_book(path, monkeypatch):
    whole, written = schema.write_take, []

    def fills_up(*args):
        written.append(args)
        if len(written) == 5:
            raise sqlite3.OperationalError("database or disk is full")
        whole(*args)

    monkeypatch.setattr(schema, "write_take", fills_up)
    with PracticeBook(path) as book:
        assert "disk is full" in book.remarks[0]
        assert book.takes() == []
    assert rows_of_version_1(path) == old_rows()
    PracticeBook(path).close()
    assert rows_now(path) == old_rows()
