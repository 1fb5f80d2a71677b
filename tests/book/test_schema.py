"""A book of version 1, made by the schema that version 1 had, comes over with nothing lost."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from coach.book import schema
from coach.book.practice import PracticeBook
from coach.book.records import unpacked
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.book.making import keep
from tests.book.oldbooks import COLUMNS_1, rows_1, version_1


@pytest.fixture
def path(tmp_path) -> Path:
    return version_1(tmp_path / "book.sqlite")


def rows_of_version_1(path: Path) -> list[tuple]:
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        return db.execute(f"SELECT {COLUMNS_1} FROM takes ORDER BY id").fetchall()


def rows_now(path: Path) -> list[tuple]:
    plain = COLUMNS_1.replace("take_json, report_json", "take_z, report_z")
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
    assert rows_now(path) == rows_1()


def test_a_copy_of_the_old_book_lies_beside_it(path):
    PracticeBook(path).close()
    assert rows_of_version_1(path.with_name("book-version-1.sqlite")) == rows_1()


def test_old_takes_have_their_figures(path):
    with PracticeBook(path) as book:
        assert book.drills("double-horn") == ["odd", "even"]
        assert book.days("even") == 5
        rows = book.take_rows()
        takes = book.takes("even")
        assert book.tallies("double-horn") == []
        assert len(book.earlier(("even",), len(takes[0].plan.dues))) >= 1
        keep(book)
        assert book.take_rows()[-1].id == 10_000
    by_tempo = {row.tempo_bpm: row for row in rows}
    for take in takes:
        row, report = by_tempo[take.plan.exercise.tempo_bpm], judge_take(take, Rules())
        assert row.clean == report.counts["clean"]
        assert row.counted == len(take.plan.dues) - report.counts.get("unsure", 0)
        assert row.seconds > 1
        assert row.offset_ms == pytest.approx(report.offset_ms, abs=0.01)
    spoilt = rows[-1]
    assert (spoilt.id, spoilt.clean, spoilt.counted) == (9999, 0, 0)


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
    assert rows_now(path) == rows_1()
    assert rows_of_version_1(path.with_name("book-version-1.sqlite")) == rows_1()


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
    assert rows_of_version_1(path) == rows_1()
    PracticeBook(path).close()
    assert rows_now(path) == rows_1()
