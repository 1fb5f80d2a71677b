"""Whether the practice book is whole."""

from __future__ import annotations

import sqlite3
from pathlib import Path


def checked(home: Path, takes: int) -> str:
    """What the book in a folder says of itself, and how many takes it holds against `takes`."""
    with sqlite3.connect(f"file:{home / 'practice.sqlite'}?mode=ro", uri=True) as book:
        (said,) = book.execute("PRAGMA integrity_check").fetchone()
        orphans = book.execute("PRAGMA foreign_key_check").fetchall()
        (kept,) = book.execute("SELECT count(*) FROM takes").fetchone()
    return f"book: {said}, {len(orphans)} orphans, {kept} takes kept of {takes}"
