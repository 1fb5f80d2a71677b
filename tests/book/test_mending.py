"""Entries that no coach wrote, in a book that sqlite finds sound."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from coach.book import mending, opening
from coach.book.leaving import ExportChoice, Leaving
from coach.book.practice import PracticeBook
from coach.book.records import packed
from coach.errors import CoachError
from tests.book.making import filled
from tests.sharing import fill, told


@pytest.fixture
def path(tmp_path) -> Path:
    """Something of everything, all of it written by a coach."""
    path = tmp_path / "book.sqlite"
    fill(path, takes=4)
    return path


def change(path: Path, sql: str, *values: object) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute(sql, values)


def asides(path: Path) -> list[Path]:
    return sorted(path.parent.glob("book-damaged-*.sqlite"))


def test_what_a_coach_wrote_is_left_alone(path):
    was = told(path)
    with closing(sqlite3.connect(path)) as db:
        names = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        assert {name for (name,) in names} == {*mending._COLUMNS, "players"}
        assert mending.mend(db, path, 1, deep=True) == ""
    with PracticeBook(path) as book:
        assert book.remarks == ()
    assert told(path) == was
    assert asides(path) == []


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("takes", "day", "monday"),
        ("takes", "day", 2**62),
        ("takes", "tempo_bpm", 0),
        ("takes", "tempo_bpm", 1e300),
        ("takes", "kept_utc", "soon"),
        ("takes", "uid", "../../../etc/x"),
        ("takes", "clean", 999),
        ("takes", "drill", b"\xff"),
        ("evidence", "take_z", "text"),
        ("tallies", "day", -5),
        ("tallies", "squares", float("inf")),
        ("ceilings", "low_bpm", 9999),
        ("goals", "due_day", "soon"),
        ("goals", "goal_bpm", "fast"),
        ("plans", "plan_json", "[" * 100_000),
        ("plans", "plan_json", '{"names": 3, "plan": {}}'),
        ("assignments", "goals_json", '[["a", "double-horn", "fast", null]]'),
        ("assignments", "due_day", b"\0"),
        ("elsewhere", "minutes", "many"),
        ("instruments", "chosen", "yes"),
        ("sessions", "started_utc", 5),
        ("passages", "passage_json", "{}"),
        ("passages", "notes_a_click", "four"),
    ],
)
def test_it_is_left_out_told_and_still_in_the_copy(path, table, column, value):
    was = told(path)
    one = " WHERE rowid = 1" if table in ROWIDS else ""
    change(path, f"UPDATE {table} SET {column} = ?{one}", value)
    with closing(sqlite3.connect(path)) as db:
        odd = db.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0]
    with PracticeBook(path) as book:
        (remark,) = book.remarks
        assert "no coach wrote" in remark
        assert len(book.take_rows()) >= 3
    (aside,) = asides(path)
    assert aside.name in remark
    with closing(sqlite3.connect(aside)) as db:
        assert db.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0] == odd
    assert set(told(path)["elsewhere"]) <= set(was["elsewhere"])
    with PracticeBook(path) as book:
        assert book.remarks == ()


ROWIDS = {"takes", "evidence", "ceilings", "sessions", "passages", "assignments"}


def test_a_player_gets_another_name_and_keeps_the_takes(path):
    change(path, "UPDATE players SET name = ?, uid = 'x'", b"\0")
    with PracticeBook(path) as book:
        assert "1 entry" in book.remarks[0]
        assert book.player == "player 1"
        assert len(book.take_rows()) == 4


def test_a_take_that_can_not_be_read_is_told_once_and_then_left_out(path):
    change(path, "UPDATE evidence SET take_z = ? WHERE take = 2", packed('{"plan": 3}'))
    with PracticeBook(path) as book:
        assert book.remarks == ()
    with pytest.raises(CoachError, match="left out now"), PracticeBook(path) as book:
        book.takes()
    with PracticeBook(path) as book:
        assert len(book.takes()) == 3
    assert len(asides(path)) == 1


def test_in_a_large_book_it_is_found_when_it_is_stumbled_over(path, monkeypatch):
    monkeypatch.setattr(opening, "SMALL_BYTES", 0)
    change(path, "UPDATE takes SET tempo_bpm = 'fast' WHERE id = 1")
    with pytest.raises(CoachError, match="left out now: try again"), PracticeBook(path) as book:
        sum(row.tempo_bpm for row in book.take_rows())
    with PracticeBook(path) as book:
        assert len(book.take_rows()) == 3


@pytest.mark.parametrize(
    "sql",
    [
        "DELETE FROM evidence WHERE take = 2",
        "UPDATE evidence SET report_z = zeroblob(5) WHERE take = 2",
        f"UPDATE evidence SET report_z = x'{packed('[' * 100_000).hex()}' WHERE take = 2",
    ],
)
def test_an_export_leaves_a_take_out_that_can_not_be_read(path, sql):
    change(path, sql)
    with PracticeBook(path) as book:
        leaving = Leaving(book, ExportChoice())
        assert len(list(leaving.take_records())) == 3
        (said,) = leaving.left_out
    assert said.startswith("take 2 can't be read")


def test_a_mistake_of_ours_stays_one(path):
    with pytest.raises(ZeroDivisionError), PracticeBook(path):
        1 / 0  # noqa: B018
    assert asides(path) == []


def test_text_that_is_none_is_shown_with_marks(path):
    change(path, "UPDATE takes SET title = CAST(x'41ff42' AS TEXT) WHERE id = 1")
    with PracticeBook(path) as book:
        assert book.take_rows()[0].title == "A\ufffdB"
        assert len(book.take_rows()) == 4


def test_many_takes_of_one_drill_stay_when_one_is_odd(tmp_path):
    path = tmp_path / "book.sqlite"
    filled(path, 20)
    change(path, "UPDATE takes SET notes = 'x' WHERE id IN (3, 7)")
    with PracticeBook(path) as book:
        assert "2 entries" in book.remarks[0]
        assert [row.id for row in book.take_rows()] == [k for k in range(1, 21) if k not in (3, 7)]
