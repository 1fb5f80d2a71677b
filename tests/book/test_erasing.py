"""Nothing of a player who was erased is left in any file of the book."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import pytest

from coach.book.backup import backups
from coach.book.erasing import erase_player
from coach.book.players import add_player
from coach.book.practice import PracticeBook
from coach.core.planning.goals import Goal
from coach.core.profile.tally import Tally
from coach.errors import CoachError
from tests.book.making import keep, numbered, take_of

SECRET = "zanzibar"
TALLY = Tally("syllable", SECRET, 1, 1, 1)


@pytest.fixture
def path(tmp_path):
    """Two players, each with a take of a drill and much else; a backup, older copies."""
    path = tmp_path / "book.sqlite"
    with PracticeBook(path) as book:
        book.rewrite(lambda db: add_player(db, SECRET))
        keep(book, numbered(take_of(), 60), "ours")
    with PracticeBook(path, SECRET) as book:
        book.begin_session(SECRET)
        keep(book, numbered(take_of(), 61), "ours")
        keep(book, numbered(take_of(5), 62), SECRET, TALLY)
        book.diary.set_goal(Goal(SECRET, "double-horn", 99.0))
        book.diary.add_elsewhere(1, 10.0, SECRET)
        book.diary.keep_plan("double-horn", None, [SECRET], {})
    (made,) = backups(path)
    shutil.copy(path, made)
    shutil.copy(path, path.with_name("book-damaged-2020-02-29.sqlite"))
    path.with_name("book-damaged-2020-03-01.sqlite").write_bytes(SECRET.encode() * 500)
    path.with_name("book-version-2.sqlite").write_bytes(path.read_bytes())
    with closing(sqlite3.connect(path.with_name("book-version-2.sqlite"))) as db:
        db.execute("PRAGMA user_version = 2")
    return path


def test_nothing_is_left_in_any_file(path):
    with PracticeBook(path, SECRET) as book:
        erase_player(book)
    left = [place.name for place in path.parent.rglob("*") if place.is_file()]
    assert "book-damaged-2020-02-29.sqlite" in left
    assert "book-damaged-2020-03-01.sqlite" not in left
    assert "book-version-2.sqlite" not in left
    for place in path.parent.rglob("*"):
        if place.is_file():
            assert SECRET.encode() not in place.read_bytes(), place


def test_the_others_keep_all_that_is_theirs(path):
    with PracticeBook(path, SECRET) as book:
        erase_player(book)
    for place in (path, *backups(path)):
        with PracticeBook(place) as book:
            assert book.remarks == ()
            assert [player.name for player in book.players()] == ["player"]
            assert [row.tempo_bpm for row in book.take_rows()] == [60.0]
            assert len(book.takes("ours")) == 1
            passages = book.rows("SELECT drill FROM passages")
            assert passages == [("ours",)]


def test_who_is_not_there_can_not_be_erased(path):
    with pytest.raises(CoachError, match='there is no player "nobody"'):
        PracticeBook(path, "nobody")


def test_the_last_player_leaves_a_book_to_begin_anew(path):
    for name in (SECRET, None):
        with PracticeBook(path, name) as book:
            erase_player(book)
    with PracticeBook(path) as book:
        assert book.take_rows() == []
        keep(book)
        assert [player.name for player in book.players()] == ["player"]
