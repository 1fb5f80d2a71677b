"""A coach that takes in a file is killed after any record of it, and in its very end.

    python -m tests.book.killed_merge FOLDER

After each kill the book must hold all of the file or nothing, and be sound; taken in once more it
must hold all of it, once.  Prints how often it was nothing and how often all.
"""

from __future__ import annotations

import os
import signal
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from coach.book.merging import merge
from coach.book.practice import PracticeBook
from coach.cli.sharing import usual_fingerings
from coach.core.share.whose import Whose
from tests.sharing import Record, fill, leaving_records, told

WHO = Whose("Ida", "e" * 32, new=True)
TAKES = 12


def main() -> None:
    folder = Path(sys.argv[1])
    fill(folder / "from.sqlite", TAKES)
    records = list(leaving_records(folder / "from.sqlite"))
    outcomes = []
    # After the last record come the commit, the closing and the end.
    for place in (1, len(records) // 2, len(records) - 1, len(records), len(records) + 1):
        path = folder / f"to-{place}.sqlite"
        PracticeBook(path).close()
        killed_after(path, records, place)
        outcomes.append(look_at(path))
        merge_all(path, records)
        assert len(told(path, "Ida")["takes"]) == TAKES
    sys.stdout.write(f"{outcomes.count(0)} {outcomes.count(TAKES)}\n")


def killed_after(path: Path, records: list[Record], place: int) -> None:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            merge_all(path, records, writing)
            os.write(writing, b".")
            signal.pause()
        finally:
            os._exit(1)
    os.close(writing)
    for _ in range(place):
        assert os.read(reading, 1), "the coach ended by itself"
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(reading)


def merge_all(path: Path, records: list[Record], writing: int | None = None) -> None:
    def placed() -> Iterator[tuple[str, Record]]:
        for number, record in enumerate(records, 1):
            yield f"line {number}", record
            if writing is not None:
                os.write(writing, b".")

    with PracticeBook(path) as book:
        known = any(player.name == WHO.name for player in book.players())
        who = Whose(WHO.name, WHO.uid) if known else WHO
        merge(book, who, placed(), usual_fingerings())


def look_at(path: Path) -> int:
    """How many takes of the file there are: none or all."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    with PracticeBook(path) as book:
        known = any(player.name == WHO.name for player in book.players())
    takes = len(told(path, WHO.name)["takes"]) if known else 0
    assert takes in (0, TAKES), takes
    return takes


if __name__ == "__main__":
    main()
