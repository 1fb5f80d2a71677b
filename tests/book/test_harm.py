"""What can happen to a book: two coaches at once, damage, a full disk, a closed folder."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

import pytest

from coach.book import backup, opening
from coach.book.backup import FOLDER, backups
from coach.book.practice import PracticeBook
from coach.core.profile.tally import Tally
from coach.errors import CoachError
from tests.book.making import filled, keep, numbered, spoil, take_of

posix = pytest.mark.skipif(os.name != "posix", reason="files have no modes, nothing forks")


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "book.sqlite"


def tempi(path: Path) -> list[int]:
    with PracticeBook(path) as book:
        return [int(row.tempo_bpm) for row in book.take_rows()]


def test_two_coaches_at_once_lose_nothing(path):
    """They make the book together, and keep 200 takes each."""
    program = """
        import sys, time
        from pathlib import Path
        from coach.book.practice import PracticeBook
        from coach.core.judge import judge_take
        from coach.core.profile.tally import Tally
        from coach.core.rules import Rules
        from tests.book.making import drill_of, numbered, take_of
        take, first = take_of(notes=2), int(sys.argv[2])
        report, drill = judge_take(take, Rules()), drill_of(take)
        print("ready", flush=True)
        input()
        with PracticeBook(Path(sys.argv[1])) as book:
            book.begin_session("both")
            for number in range(first, first + 200):
                book.append(numbered(take, number), report, drill, (Tally("k", "n", 1, 1, 1),))
                time.sleep(0.002)  # else sqlite lets one keep all 200 before the other
            assert book.remarks == ()
    """
    command = [sys.executable, "-c", textwrap.dedent(program), str(path)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    coaches = [subprocess.Popen([*command, str(first)], **pipes) for first in (1, 1001)]
    assert [coach.stdout.readline() for coach in coaches] == ["ready\n", "ready\n"]
    for coach in coaches:
        coach.stdin.write("go\n")
        coach.stdin.flush()
    assert [coach.communicate() and coach.returncode for coach in coaches] == [0, 0]
    assert sorted(tempi(path)) == [*range(1, 201), *range(1001, 1201)]
    with PracticeBook(path) as book:
        assert [tally.count for tally in book.tallies("double-horn")] == [400]
    with closing(sqlite3.connect(path)) as db:
        per_session = "SELECT count(*) FROM takes GROUP BY session"
        assert db.execute(per_session).fetchall() == [(200,), (200,)]


def test_a_damaged_book_gives_way_to_its_backup(path):
    filled(path, 30)
    filled(path, 1, first=31)
    spoil(path)
    was = path.read_bytes()
    with PracticeBook(path) as book:
        (remark,) = book.remarks
        assert [int(row.tempo_bpm) for row in book.take_rows()] == [*range(1, 31)]
        keep(book, numbered(take_of(), 32))
    today = date.today()
    aside = path.with_name(f"book-damaged-{today}.sqlite")
    assert aside.name in remark
    assert f"the backup of {today}" in remark
    assert aside.read_bytes() == was
    assert tempi(path) == [*range(1, 31), 32]


def test_a_second_damaged_book_does_not_overwrite_the_first(path):
    for _ in range(2):
        filled(path, 30)
        spoil(path)
        with PracticeBook(path) as book:
            assert "damaged" in book.remarks[0]
    assert len(list(path.parent.glob("book-damaged-*.sqlite"))) == 2


def test_a_damaged_backup_is_passed_over(path):
    filled(path, 30)
    (good,) = backups(path)
    older = good.with_name("book-2020-02-29.sqlite")
    shutil.copy(good, older)
    for bad in (good, path):
        spoil(bad)
    with PracticeBook(path) as book:
        assert "the backup of 2020-02-29" in book.remarks[0]
        assert len(book.take_rows()) == 30


@pytest.mark.parametrize("content", [b"not a book, but long enough to be looked at" * 50, b"no"])
def test_a_file_that_is_no_book_is_put_aside(path, content):
    path.write_bytes(content)
    with PracticeBook(path) as book:
        assert "no sound backup" in book.remarks[0]
        keep(book)
    (aside,) = path.parent.glob("book-damaged-*")
    assert aside.read_bytes() == content
    assert len(tempi(path)) == 1


def test_damage_met_while_a_large_book_is_open_is_mended_when_it_is_closed(path, monkeypatch):
    filled(path, 30)
    monkeypatch.setattr(opening, "SMALL_BYTES", 0)  # not read through at opening
    spoil(path)
    with PracticeBook(path) as book:
        assert book.remarks == ()
        with pytest.raises(CoachError, match=r"can't be read .*newest backup"):
            book.takes()
    assert "damaged" in book.remarks[0]
    assert len(tempi(path)) == 30


def test_a_take_played_on_a_damaged_book_goes_into_the_backup(path, monkeypatch):
    filled(path, 30)
    monkeypatch.setattr(opening, "SMALL_BYTES", 0)
    spoil(path)
    with PracticeBook(path) as book:
        with pytest.raises(CoachError):
            keep(book, numbered(take_of(), 31))
        keep(book, numbered(take_of(), 32))
        assert "damaged" in book.remarks[0]
    assert tempi(path) == list(range(1, 33))


def test_a_large_book_not_checked_for_a_week_is_checked_at_opening(path, monkeypatch):
    filled(path, 30)
    monkeypatch.setattr(opening, "SMALL_BYTES", 0)
    (made,) = backups(path)
    made.rename(made.with_name("book-2020-02-29.sqlite"))
    spoil(path)
    with PracticeBook(path) as book:
        assert "the backup of 2020-02-29" in book.remarks[0]


def test_one_backup_a_day_and_the_last_five(path):
    folder = path.parent / FOLDER
    folder.mkdir()
    for day in range(1, 8):
        (folder / f"book-2020-01-0{day}.sqlite").write_bytes(b"")
    (folder / "book-2020-01-01.sqlite.1.part").write_bytes(b"")
    beside = ("book-version-1.sqlite.1.part", "book.sqlite.restored.1.part-journal")
    for name in beside:
        path.with_name(name).write_bytes(b"")
    (folder / "other-2020-01-01.sqlite").write_bytes(b"")
    filled(path, 2)
    filled(path, 1, first=3)
    today = f"book-{date.today()}.sqlite"
    assert [p.name for p in backups(path)] == [
        today,
        *(f"book-2020-01-0{day}.sqlite" for day in (7, 6, 5, 4)),
    ]
    assert sorted(p.name for p in folder.iterdir() if "other" in p.name or "part" in p.name) == [
        "other-2020-01-01.sqlite"
    ]
    assert not any(path.with_name(name).exists() for name in beside)
    with closing(sqlite3.connect(folder / today)) as db:
        assert db.execute("SELECT count(*) FROM takes").fetchone() == (2,)


def test_reading_makes_no_backup(path):
    with PracticeBook(path) as book:
        book.takes()
    assert backups(path) == []


def test_no_backup_on_a_disk_that_is_nearly_full(path, monkeypatch):
    free = shutil.disk_usage(path.parent)._replace(free=3_000_000)
    monkeypatch.setattr(backup.shutil, "disk_usage", lambda folder: free)
    with PracticeBook(path) as book:
        keep(book)
    assert book.remarks == (
        "No backup of the practice book was made: only 3 MB are left on the disk.",
    )
    assert backups(path) == []
    assert len(tempi(path)) == 1


def full(book: PracticeBook, is_full: bool = True) -> None:
    """sqlite answers as on a full disk (SQLITE_FULL) when the file would grow."""
    (pages,) = book._db.execute("PRAGMA page_count").fetchone()
    book._db.execute(f"PRAGMA max_page_count = {pages if is_full else pages + 10_000}")


def until_full(book: PracticeBook) -> int:
    """How many takes went in before the first that did not."""
    full(book)
    for number in range(1, 100):
        try:
            keep(book, numbered(take_of(), number), "d", Tally("k", "n", 1, 1, 1))
        except CoachError as error:
            if "disk is full" not in str(error):
                raise
            return number - 1
    raise AssertionError("it is never full")


def test_takes_wait_while_the_disk_is_full(path):
    with PracticeBook(path) as book:
        book.begin_session("drill")
        fitted = until_full(book)
        with pytest.raises(CoachError, match="2 wait in memory, and the next take tries again"):
            keep(book, numbered(take_of(), fitted + 2), "d", Tally("k", "n", 1, 1, 1))
        assert len(book.take_rows()) == fitted
        full(book, False)
        keep(book, numbered(take_of(), fitted + 3), "d", Tally("k", "n", 1, 1, 1))
        assert [tally.count for tally in book.tallies("double-horn")] == [fitted + 3]
    assert tempi(path) == list(range(1, fitted + 4))


def test_what_waits_is_tried_again_at_closing(path):
    with PracticeBook(path) as book:
        fitted = until_full(book)
        full(book, False)
    assert tempi(path) == list(range(1, fitted + 2))


def test_what_never_went_in_is_said_at_closing(path):
    with PracticeBook(path) as book:
        fitted = until_full(book)
    assert "(1 entry of the practice book) could not be kept" in book.remarks[0]
    assert tempi(path) == list(range(1, fitted + 1))


def test_a_take_that_can_never_go_in_does_not_hold_up_the_next(path):
    with PracticeBook(path) as book:
        with pytest.raises(CoachError, match="could not be kept"):
            keep(book, numbered(take_of(), 1), "d", Tally("k", "n", 1, 1, 1, 1, float("nan")))
        keep(book, numbered(take_of(), 2))
    assert tempi(path) == [2]


def test_practising_goes_on_where_no_book_can_be_made(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    with PracticeBook(blocked / "book.sqlite") as book:
        assert "can't be written" in book.remarks[0]
        assert "COACH_HOME" in book.remarks[0]
        assert book.takes() == []
        with pytest.raises(CoachError, match="in memory"):
            keep(book, numbered(take_of(), 1))
        blocked.unlink()
        keep(book, numbered(take_of(), 2))
        assert len(book.take_rows()) == 2
    assert tempi(blocked / "book.sqlite") == [1, 2]


@contextmanager
def shut_folder(path: Path):
    """The book in a folder in which this user may only read."""
    folder = Path(tempfile.mkdtemp())
    shutil.copy(path, folder / path.name)
    root = os.geteuid() == 0  # for whom nothing is shut
    if root:
        for place in (folder, folder / path.name):
            shutil.chown(place, 65534)
        os.seteuid(65534)
    try:
        (folder / path.name).chmod(0o400)
        folder.chmod(0o500)
        yield folder / path.name
    finally:
        folder.chmod(0o700)
        if root:
            os.seteuid(0)
        shutil.rmtree(folder)


@posix
def test_a_book_in_a_shut_folder_is_read(path):
    filled(path, 3)
    with shut_folder(path) as shut:
        with PracticeBook(shut) as book:
            assert "can't be written" in book.remarks[0]
            assert [int(row.tempo_bpm) for row in book.take_rows()] == [1, 2, 3]
            with pytest.raises(CoachError, match="in memory"):
                keep(book)
            shut.parent.chmod(0o700)
            shut.chmod(0o600)
            keep(book, numbered(take_of(), 5))
        assert tempi(shut) == [1, 2, 3, 120, 5]


@posix
def test_the_book_and_its_backups_are_the_owner_s_alone(path):
    path.write_bytes(b"")
    path.chmod(0o644)
    filled(path, 1)
    with PracticeBook(path) as book:
        keep(book)
        found = [p for p in path.parent.rglob("book*") if p.is_file()]
        assert len(found) == 5  # with its log, the log's index, a backup, and room held back
        assert {p.stat().st_mode & 0o777 for p in found} == {0o600}
