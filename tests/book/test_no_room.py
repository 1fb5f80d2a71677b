"""The book on a full disk: takes go into the room that it holds back, or wait for room."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from coach.book import backup
from coach.book.backup import backups
from coach.book.practice import PracticeBook
from coach.book.records import take_from_data
from coach.book.reserve import HELD_BYTES, USED
from coach.errors import CoachError
from tests.book.making import filled, keep, numbered, take_of
from tests.book.oldbooks import version_1

room = pytest.importorskip("tests.room")


@pytest.fixture
def disk(monkeypatch) -> Iterator[Path]:
    """Of three megabytes; a backup wants little of it."""
    monkeypatch.setattr(backup, "SPARE_BYTES", 100_000)
    with room.small_disk(3_000_000) as folder:
        yield folder


def tempi(path: Path) -> list[int]:
    """Of all takes in a book that is sound."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows = db.execute("SELECT tempo_bpm FROM takes ORDER BY id").fetchall()
    return [int(tempo) for (tempo,) in rows]


@pytest.mark.parametrize("full_before", [True, False])
def test_takes_go_into_the_room_held_back(disk, full_before):
    """Of a disk that is full when the session begins, or fills up in it; told once."""
    path = disk / "book.sqlite"
    filled(path, 5)
    if full_before:
        room.fill_up(disk)
    with PracticeBook(path) as book:
        book.begin_session("drill")
        if not full_before:
            keep(book, numbered(take_of(), 6))
            room.fill_up(disk)
        for number in range(6 + len(book.take_rows()) - 5, 60):
            keep(book, numbered(take_of(), number))
    assert book.remarks[0] == USED
    assert tempi(path) == list(range(1, 60))


def until_it_waits(book: PracticeBook) -> int:
    """The number of the first take, from 6 on, that finds no room."""
    with pytest.raises(CoachError, match="it waits in memory"):  # noqa: PT012
        for number in range(6, 1000):
            keep(book, numbered(take_of(30), number))
    return number


def test_takes_wait_once_that_is_full_too_and_room_is_held_again(disk):
    path = disk / "book.sqlite"
    filled(path, 5)
    fill = room.fill_up(disk)
    with PracticeBook(path) as book:
        number = until_it_waits(book)
        assert 100 < len(book.take_rows()) == number - 1
        fill.unlink()
    assert tempi(path) == list(range(1, number + 1))
    for old in backups(path):
        old.rename(old.with_name("book-2020-02-29.sqlite"))
    filled(path, 1, first=number + 1)
    assert (path.parent / "backups" / "book.room").stat().st_size == HELD_BYTES


def test_what_no_room_could_be_had_for_is_handed_on(tmp_path):
    path = tmp_path / "book.sqlite"
    filled(path, 2)
    with PracticeBook(path) as book:
        with room.no_file_larger(), pytest.raises(CoachError, match="it waits in memory"):
            keep(book, numbered(take_of(), 3))
        assert tempi(path) == [1, 2]
        keep(book, numbered(take_of(), 4))
        with room.no_file_larger():
            with pytest.raises(CoachError):
                keep(book, numbered(take_of(), 5))
            book.close()
    assert "(1 entry of the practice book) could not be kept" in book.remarks[0]
    player, (take,) = book.kept_nowhere
    assert player["name"] == "player"
    assert take_from_data(take["take"]).plan.exercise.tempo_bpm == 5
    assert tempi(path) == [1, 2, 3, 4]


def test_a_backup_for_which_there_is_no_room(tmp_path):
    path = tmp_path / "book.sqlite"
    with PracticeBook(path) as book:
        keep(book)
        with room.no_file_larger():
            book.close()
    assert "No backup of the practice book was made" in book.remarks[0]
    assert backups(path) == []
    assert len(tempi(path)) == 1


def test_an_old_book_for_which_there_is_no_room_stays_as_it_was(tmp_path):
    path = version_1(tmp_path / "book.sqlite")
    before = path.read_bytes()
    with room.no_file_larger(), PracticeBook(path) as book:
        assert "can't be written" in book.remarks[0]
        assert book.take_rows() == []
    assert path.read_bytes() == before
    with PracticeBook(path) as book:
        assert book.remarks == ()
        assert len(book.take_rows()) > 5
