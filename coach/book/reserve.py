"""A little room on the disk that the book holds back, for takes played when the disk is full."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import suppress
from pathlib import Path

from coach.book.backup import FOLDER, make_private

# With the log kept short it is enough for 158 takes of 30 notes.
HELD_BYTES = 500_000
SHORT_LOG_PAGES = 20
USED = (
    "The disk is full: what was played last went into the room that the practice book holds back;"
    " make room on the disk before you go on."
)


def hold(path: Path) -> None:
    """Hold room for the book at `path`, if that is not done already; OSError if there is none."""
    place = _place(path)
    if not place.exists():
        make_private(place)
        # Nothing that a file system could make smaller.
        place.write_bytes(os.urandom(HELD_BYTES))


def is_full(path: Path) -> bool:
    """Whether the disk under the book has next to no room; sqlite tells that in several ways."""
    try:
        return shutil.disk_usage(path.parent).free < HELD_BYTES
    except OSError:
        return False


def let_go(path: Path) -> bool:
    """Let go of what is held for the book at `path`; whether anything was."""
    try:
        _place(path).unlink()
    except OSError:
        return False
    return True


def keep_log_short(db: sqlite3.Connection) -> None:
    """Write the log into the book now, if that can be, and every few pages from now on."""
    with suppress(sqlite3.Error):
        db.execute(f"PRAGMA wal_autocheckpoint = {SHORT_LOG_PAGES}")
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


def _place(path: Path) -> Path:
    return path.parent / FOLDER / f"{path.stem}.room"
