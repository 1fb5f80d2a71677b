"""Everything about one player erased: from the book, from its backups and from copies beside it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from coach.book.backup import BESIDE, backups, half_made, is_damage
from coach.book.practice import PracticeBook
from coach.book.schema import VERSION, transaction, version_of


def erase_player(book: PracticeBook) -> None:
    """Erase the player of this open book.

    Backups and older copies are cleared as well; a copy that can't be read is deleted: nobody could
    tell what is in it.  CoachError if something can't be written; calling it again goes on from
    there.
    """
    name = book.player
    # The copies first: who is still in the book can be named again, should it be cut short.
    book.rewrite(lambda db: _clear_copies(book.path, name))
    book.rewrite(lambda db: _erase(db, name))


def _clear_copies(path: Path, name: str) -> None:
    for left in half_made(path):
        left.unlink(missing_ok=True)
    for copy in _copies(path):
        _clear_copy(copy, name)


def _copies(path: Path) -> Iterator[Path]:
    yield from backups(path)
    for words in ("version", "damaged"):
        yield from sorted(path.parent.glob(f"{path.stem}-{words}-*{path.suffix}"))


def _clear_copy(copy: Path, name: str) -> None:
    try:
        with closing(sqlite3.connect(copy, isolation_level=None)) as db:
            if version_of(db) == VERSION:
                _erase(db, name)
                return
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
    # Damaged, or of an older version, whose takes are in the book as well.
    for ending in ("", *BESIDE):
        Path(f"{copy}{ending}").unlink(missing_ok=True)


def _erase(db: sqlite3.Connection, name: str) -> None:
    """Of one file; what was deleted is overwritten, and the log emptied."""
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA secure_delete = ON")
    with transaction(db):
        db.execute("DELETE FROM players WHERE name = ?", (name,))
        db.execute(
            "DELETE FROM passages WHERE id NOT IN (SELECT passage FROM takes WHERE passage NOT NULL"
            " UNION SELECT passage FROM ceilings)"
        )
    db.execute("VACUUM")
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
