"""A book in a network folder, and on a system that moves no open file, as far as they can be had
here: their paths, a log that can't be mapped, and a file that another program holds."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import PurePosixPath, PureWindowsPath

import pytest

from coach.book import backup
from coach.book.backup import read_only
from coach.book.practice import PracticeBook
from tests.book.making import filled, spoil


@pytest.mark.parametrize(
    ("path", "uri"),
    [
        (PurePosixPath("/home/a b/x.sqlite"), "file:///home/a%20b/x.sqlite?mode=ro"),
        (PureWindowsPath("C:\\Eva\\x#1.sqlite"), "file:///C:/Eva/x%231.sqlite?mode=ro"),
        (PureWindowsPath("\\\\server\\band\\x.sqlite"), "file:////server/band/x.sqlite?mode=ro"),
    ],
)
def test_uris_as_sqlite_reads_them(path, uri):
    """https://www.sqlite.org/uri.html: the authority is empty, the path absolute."""
    assert read_only(path) == uri


def test_a_book_whose_log_has_no_index_is_kept_with_a_journal(tmp_path):
    path = tmp_path / "book.sqlite"
    filled(path, 3)
    # Where the index of the log belongs, nothing can be mapped into memory.
    (tmp_path / "book.sqlite-shm").mkdir()
    filled(path, 2, first=4)
    with PracticeBook(path) as book:
        assert (len(book.take_rows()), book.remarks) == (5, ())
        (mode,) = book.rows("PRAGMA journal_mode")
        assert mode == ("delete",)
        # Nobody is kept out meanwhile.
        with closing(sqlite3.connect(path, timeout=0)) as other:
            assert other.execute("SELECT count(*) FROM takes").fetchone() == (5,)


def test_a_damaged_book_that_another_program_holds_is_left_where_it_is(tmp_path, monkeypatch):
    """Windows: "a sharing violation" for files that sqlite has open."""
    path = tmp_path / "book.sqlite"
    filled(path, 30)
    spoil(path)
    (tmp_path / "book.sqlite-wal").touch()
    before = path.read_bytes()
    replace = os.replace

    def held(source, target):
        if str(source).endswith(("-wal", "-shm")):
            raise PermissionError(13, "it is used by another process", str(source))
        replace(source, target)

    monkeypatch.setattr(backup.os, "replace", held)
    for _ in range(2):
        with PracticeBook(path) as book:
            assert "can't be written" in book.remarks[0]
    assert path.read_bytes() == before
    left = {one.name for one in tmp_path.iterdir()}
    assert not [name for name in left if "damaged" in name or "restored" in name]


def test_what_is_kept_is_on_the_drive_on_macos_too(tmp_path):
    """https://www.sqlite.org/pragma.html: FULL is 2; other systems have no F_FULLFSYNC."""
    with PracticeBook(tmp_path / "book.sqlite") as book:
        assert book.rows("PRAGMA synchronous") == [(2,)]
        assert book.rows("PRAGMA fullfsync") == [(1,)]
