"""A book of version 2, as its coach left it, comes over with nothing lost."""

from __future__ import annotations

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from coach.book import schema
from coach.book.practice import PracticeBook
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.book.making import drill_of, keep, take_of
from tests.book.oldbooks import version_2

COLUMNS = {
    "takes": "id, kept_utc, day, player, session, passage, drill, title, instrument, rules,"
    " tempo_bpm, notes, clean, counted, accuracy, passed, lost_frames, seconds, offset_ms,"
    " evenness_cv, spread_ms",
    "evidence": "take, take_z, report_z",
    "passages": "id, drill, instrument, notes, digest, passage_json",
    "sessions": "id, player, started_utc, command, ended_utc, ended",
    "tallies": "player, instrument, kind, name, day, count, clean, n_values, total, squares",
    "players": "id, name",
}


@pytest.fixture
def path(tmp_path) -> Path:
    return version_2(tmp_path / "book.sqlite")


def rows_of(path: Path, version: int) -> dict[str, list[tuple]]:
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (version,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        return {
            table: db.execute(f"SELECT {columns} FROM {table} ORDER BY 1, 2").fetchall()
            for table, columns in COLUMNS.items()
        }


def uids_of(path: Path) -> list[str]:
    with PracticeBook(path) as book:
        return [row.uid for row in book.take_rows()]


def test_nothing_is_lost(path):
    was = rows_of(path, 2)
    assert [len(was[table]) for table in COLUMNS] == [7, 7, 3, 1, 1, 1]
    with PracticeBook(path) as book:
        assert book.remarks == ()
    assert rows_of(path, schema.VERSION) == was


def test_a_copy_of_the_old_book_lies_beside_it(path):
    was = rows_of(path, 2)
    PracticeBook(path).close()
    assert rows_of(path.with_name("book-version-2.sqlite"), 2) == was


def test_old_takes_have_names_that_are_the_same_in_every_copy(path):
    other = shutil.copy(path, path.with_name("other.sqlite"))
    uids = uids_of(path)
    assert uids == uids_of(Path(other))
    assert len(set(uids)) == 7
    assert all(re.fullmatch("[0-9a-f]{32}", uid) for uid in uids)
    with PracticeBook(path) as book:
        assert book.kept(uids[1]).take == book.takes("scale")[0]
        new = keep(book)
    assert new not in uids


def test_takes_of_other_books_have_other_names(path, tmp_path):
    """The same numbers and drills, a day later."""
    other = version_2(tmp_path / "other.sqlite")
    with closing(sqlite3.connect(other)) as db:
        db.execute("UPDATE takes SET kept_utc = replace(kept_utc, '2026-04', '2026-05')")
        db.commit()
    both = set(uids_of(path)) & set(uids_of(other))
    assert len(both) == 1  # the one of March


def test_old_passages_have_their_kinds(path):
    """Written a fifth above what sounds: the scale upwards from sounding C is G major."""
    with PracticeBook(path) as book:
        rows = {row.id: (row.scale, row.tonguing, row.notes_a_click) for row in book.take_rows()}
    assert rows == {
        5: (None, None, 0.0),  # nobody can read it
        6: ("G major", "tongued", 2.0),
        7: ("G major", "tongued", 2.0),
        8: ("G major", "tongued", 2.0),
        9: ("G major", "ta ka", 2.0),
        10: ("G major arpeggio", "tongued", 2.0),
        11: ("G major", "tongued", 2.0),
    }


def test_the_nameless_player_is_named_and_plays_what_was_played(path):
    with PracticeBook(path) as book:
        (player,) = book.players()
        played = book._db.execute("SELECT name FROM instruments WHERE player = 1").fetchall()
    assert re.fullmatch("[0-9a-f]{32}", player.uid)
    assert (player.id, player.name, player.takes) == (1, "player", 7)
    assert (player.chosen, player.instrument) == (True, None)
    assert sorted(played) == [("double-horn",), ("trumpet",)]


def test_two_books_have_two_players(path, tmp_path):
    """Two people who never gave a name are two people when their books meet."""
    uids = []
    for place in (path, version_2(tmp_path / "other.sqlite")):
        with PracticeBook(place) as book:
            uids.append(book.players()[0].uid)
    assert uids[0] != uids[1]


def test_old_takes_are_read_as_before(path):
    with PracticeBook(path) as book:
        takes = book.takes("scale")
        assert [take.plan.exercise.tempo_bpm for take in takes] == [60, 64, 68, 80, 72]
        rows = {row.id: row for row in book.take_rows()}
        for take, number in zip(takes, (6, 7, 8, 9, 11), strict=True):
            report = judge_take(take, Rules())
            assert rows[number].clean == report.counts["clean"]
            assert rows[number].accuracy == pytest.approx(report.accuracy)
        ((move),) = book.tallies("double-horn")
        assert (move.name, move.count, move.total) == ("1>3", 12, 37.5)
        assert book.drills("double-horn") == ["scale", "odd"]


def test_of_ceilings_known_at_one_moment_the_last_stays(path):
    """Nothing in version 2 forbade two."""
    with PracticeBook(path) as book:
        assert [known.estimate_bpm for known in book.ceilings("scale")] == [70.0, 73.0]
        assert [known.estimate_bpm for known in book.ceilings("arpeggio")] == [96.0]


def test_a_disk_that_fills_up_on_the_way_leaves_the_old_book(path, monkeypatch):
    was = rows_of(path, 2)

    def fills_up(*args):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(schema, "set_kinds", fills_up)
    with PracticeBook(path) as book:
        assert "disk is full" in book.remarks[0]
    assert rows_of(path, 2) == was
    monkeypatch.undo()
    PracticeBook(path).close()
    assert rows_of(path, schema.VERSION) == was


def test_now_too_what_is_known_at_one_moment_is_what_was_told_last(tmp_path, monkeypatch):
    take = take_of()
    with PracticeBook(tmp_path / "book.sqlite") as book:
        moment = book.moment()
        monkeypatch.setattr(book, "moment", lambda: moment)
        for bpm in (90.0, 91.0):
            book.add_ceiling(drill_of(take), take.plan.exercise.passage, bpm, bpm - 5, bpm + 5)
        assert [known.estimate_bpm for known in book.ceilings("d")] == [91.0]
