"""A practice book that can't be used, as each command meets it: one sentence, nothing lost."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from coach.book import opening, practice
from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.record import book_path, own_book
from coach.errors import CoachError
from tests.book.making import filled, keep, numbered, take_of

posix = pytest.mark.skipif(os.name != "posix", reason="files have no modes")
TAKES = 12


@pytest.fixture(scope="module")
def sound_book(tmp_path_factory) -> Path:
    """A home with a book of a dozen takes, and its backup."""
    home = tmp_path_factory.mktemp("sound")
    filled(home / "practice.sqlite", TAKES)
    return home


@pytest.fixture
def book(sound_book) -> Path:
    shutil.copytree(sound_book, book_path().parent, dirs_exist_ok=True)
    return book_path()


def said(capsys, *arguments: str) -> tuple[int, list[str]]:
    """The exit status of a command, and its sentences."""
    status = main(list(arguments))
    lines = capsys.readouterr().err.splitlines()
    assert all(line.startswith("coach: ") for line in lines), lines
    return status, lines


def count(path: Path) -> int:
    with PracticeBook(path) as book:
        return len(book.take_rows())


def cut(share: float) -> Callable[[Path], None]:
    return lambda path: os.truncate(path, int(path.stat().st_size * share))


def flipped(path: Path) -> None:
    """The first page, which says what is where."""
    whole = bytearray(path.read_bytes())
    for place in range(0, 4096, 7):
        whole[place] ^= 0xFF
    path.write_bytes(whole)


@pytest.mark.parametrize(
    "harm",
    [cut(0), cut(0.001), cut(0.5), cut(0.99), flipped],
    ids=["emptied", "cut to a stub", "cut in half", "cut at the end", "first page flipped"],
)
def test_a_spoilt_book_gives_way_to_its_backup(book, harm, capsys):
    harm(book)
    status, (line,) = said(capsys, "review")
    assert status == 0
    assert "was damaged and is now practice-damaged-" in line
    assert "the backup of" in line
    assert count(book) == TAKES


def test_bytes_that_change_anywhere_never_stop_a_command(book, capsys):
    """The book is as it was, or put right with a sentence, or the command ends with one."""
    whole, random = book.read_bytes(), Random(5)
    for _ in range(25):
        spoilt = bytearray(whole)
        for _ in range(random.choice((1, 3, 40))):
            spoilt[random.randrange(len(spoilt))] ^= 1 << random.randrange(8)
        book.write_bytes(spoilt)
        status, _ = said(capsys, "review")
        assert status in (0, 2)
        for stray in book.parent.glob("practice.sqlite-*"):
            stray.unlink()


def test_a_folder_where_the_book_belongs(capsys):
    book_path().mkdir(parents=True)
    status, (line,) = said(capsys, "review")
    assert status == 0
    assert "can't be written" in line
    assert "COACH_HOME" in line


def test_a_book_of_a_newer_coach(book, capsys):
    with closing(sqlite3.connect(book)) as db:
        db.execute("PRAGMA user_version = 1000")
        db.commit()
    before = book.read_bytes()
    status, (line,) = said(capsys, "review")
    assert status == 2
    assert "written by a newer coach" in line
    assert "install the newer coach" in line
    assert book.read_bytes() == before


@contextlib.contextmanager
def as_nobody(home: Path, mode: int) -> Iterator[Path]:
    """A copy of the home in which everything has this mode, and we may do no more than it says."""
    folder = Path(tempfile.mkdtemp())
    places = [shutil.copytree(home, folder / "home"), *(folder / "home").rglob("*")]
    root = os.geteuid() == 0  # for whom nothing is shut
    if root:
        for place in (folder, *places):
            shutil.chown(place, 65534)
        os.seteuid(65534)
    try:
        for place in reversed(places):
            place.chmod(mode | (mode & 0o400) >> 2 if place.is_dir() else mode)
        yield places[0]
    finally:
        if root:
            os.seteuid(0)
        for place in places:
            place.chmod(0o700)
        shutil.rmtree(folder)


@posix
@pytest.mark.parametrize("mode", [0o000, 0o400])
def test_a_home_that_is_shut(book, capsys, monkeypatch, mode):
    """Not to be read at all, or only to be read."""
    with as_nobody(book.parent, mode) as home:
        monkeypatch.setenv("COACH_HOME", str(home))
        status, lines = said(capsys, "review")
    assert status in (0, 2)
    assert len(lines) == 1
    assert "can't be" in lines[0] or "permission denied" in lines[0]


@pytest.mark.parametrize(
    ("home", "told"),
    [
        ("file", "file: this is a file, not a folder"),
        ("file/in/it", "there is no practice book in file/in/it; if it should be there, plug"),
        ("/proc/no/drive", "there is no practice book in /proc/no/drive; if it should be there"),
    ],
)
def test_a_home_that_can_not_be(home, told, tmp_path, monkeypatch, capsys):
    """A file where it belongs, or a drive that is not there."""
    (tmp_path / "file").write_text("a file")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COACH_HOME", home)
    status, (line,) = said(capsys, "review")
    assert (status, line.startswith(f"coach: {told}")) == (2, True)
    status, (line,) = said(capsys, "goal", "turns", "120")
    assert status == 2
    assert line.startswith(f"coach: {home}/practice.sqlite: the goal could not be kept (")
    assert "Errno" not in line
    assert line.count(home) == 2
    assert line.endswith("or set COACH_HOME to a folder you can write to, then try again.")
    status, (line,) = said(capsys, "played", "10")
    assert (status, "what was played could not be kept (" in line) == (2, True)
    assert "memory" not in line
    assert (tmp_path / "file").read_text() == "a file"


@pytest.fixture
def locked(book, monkeypatch) -> Iterator[sqlite3.Connection]:
    """Somebody else writes, for as long as the test lets them."""
    monkeypatch.setattr(opening, "WAIT_S", 0.01)
    monkeypatch.setattr(opening, "BRIEF_WAIT_S", 0.01)
    monkeypatch.setattr(practice, "WAIT_S", 0.01)
    monkeypatch.setattr(practice, "BRIEF_WAIT_S", 0.01)
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield other


def test_takes_wait_for_a_book_that_somebody_else_writes(locked, book):
    with PracticeBook(book) as ours:
        assert "close what else has it open" in ours.remarks[0]
        assert len(ours.take_rows()) == TAKES
        with pytest.raises(CoachError, match=r"locked.*it waits in memory"):
            keep(ours, numbered(take_of(), 1))
        locked.execute("ROLLBACK")
        keep(ours, numbered(take_of(), 2))
    assert count(book) == TAKES + 2


def test_takes_that_waited_in_vain_can_be_taken_in_later(locked, book, monkeypatch, capsys):
    monkeypatch.setenv("HOME", str(book.parent))
    with own_book() as ours, pytest.raises(CoachError):
        keep(ours)
    *_, told = capsys.readouterr().err.splitlines()
    locked.execute("ROLLBACK")
    assert count(book) == TAKES
    (file,) = book.parent.glob("coach-takes-*.jsonl")
    assert told == f"coach: The takes are in a file now: coach import {file}"
    assert said(capsys, "import", str(file)) == (0, [])
    assert count(book) == TAKES + 1
