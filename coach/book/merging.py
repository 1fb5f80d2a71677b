"""What comes into the book from a file: merged, so that nothing comes twice, all of it or nothing.

The same is: a take of the same player and uid, a passage of the same drill, instrument and digest,
a ceiling of the same passage and moment, minutes elsewhere and an assignment of the same uid, a
session of the same start.  Of two goals for one drill, and of two plans for one day, the later one
stays.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from coach.book.merger import Fingered, Merged, Merger, Record
from coach.book.players import add_player
from coach.book.schema import transaction
from coach.core.share.whose import Whose

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook


def merge(
    book: PracticeBook,
    who: Whose,
    records: Iterable[tuple[str, Record]],
    fingered: Fingered,
    *,
    before_end: Callable[[], None] = lambda: None,
) -> Merged:
    """Take the records in as that player's: each with its place ("file, line 3"), and all that the
    schema asks for.

    `before_end` does what else belongs to it, when nothing more can be wrong with the records; the
    book changes after that.  FileError for the first record that can't be, CoachError if the book
    can't be written: nothing is changed then.
    """
    merged = Merged()

    def change(db: sqlite3.Connection) -> None:
        with transaction(db):
            merging = Merger(db, _player(db, who), book.moment().utc, fingered, merged)
            for where, record in records:
                merging.add(where, record)
            before_end()

    book.rewrite(change)
    return merged


def _player(db: sqlite3.Connection, who: Whose) -> int:
    """The player's number."""
    if who.new:
        return add_player(db, who.name, who.uid)[0]
    if who.takes_over:
        db.execute("UPDATE players SET uid = ? WHERE name = ?", (who.uid, who.name))
    ((number,),) = db.execute("SELECT id FROM players WHERE name = ?", (who.name,)).fetchall()
    return int(number)
