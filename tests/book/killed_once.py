"""A coach is killed in what it does seldom: bringing over an old book, backing up, putting a
damaged book aside, taking in a file of somebody else.

    python -m tests.book.killed_once FOLDER KILLS SEED

KILLS of each; 0: once at every line of the book's code, in what has not too many.  After each there
must be the old book or the new one, whole; the first thing that is wrong ends the program with
AssertionError.  Prints how many were killed in what.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

from coach.book import schema
from coach.book.backup import FOLDER, backups, half_made
from coach.book.practice import PracticeBook
from coach.book.records import unpacked
from tests.book import killed_merge
from tests.book.dying import Death, Life, at_line, life_of, opened, run
from tests.book.making import filled, keep, spoil
from tests.book.oldbooks import version_1, version_2
from tests.sharing import Record, fill, leaving_records

OLD_TAKES, TAKES = 300, 30
BIG, SMALL, MANY_LINES = 1_000_000, 300_000, 2_000
# So many days ago was the last backup.
LONG_AGO = "book-2020-02-29.sqlite"


@dataclass(frozen=True, slots=True)
class Job:
    """What is made in a folder beforehand, what the coach does there, and what must be after it;
    `biggest` is what its files grow to, about, in bytes."""

    name: str
    make: Callable[[Path], None]
    do: Callable[[Path], None]
    look: Callable[[Path], None]
    biggest: int


def main() -> None:
    folder, kills, rng = Path(sys.argv[1]), int(sys.argv[2]), Random(int(sys.argv[3]))
    for job in jobs():
        sys.stdout.write(f"{job.name} {keep_killing(job, folder / job.name, kills, rng)}\n")


def keep_killing(job: Job, folder: Path, kills: int, rng: Random) -> int:
    before, now = folder / "before", folder / "now"
    before.mkdir(parents=True)
    job.make(before)

    def again() -> None:
        shutil.rmtree(now, ignore_errors=True)
        shutil.copytree(before, now)

    again()
    life = life_of(lambda out: job.do(now), again)
    job.look(now)
    killed = 0
    for death in deaths(life, job, kills, rng):
        again()
        _, dead = run(lambda out: job.do(now), death)
        killed += dead
        job.look(now)
    return killed


def deaths(life: Life, job: Job, kills: int, rng: Random) -> Iterator[Death]:
    if kills:
        return (life.death(number, rng, (1, job.biggest)) for number in range(kills))
    return map(at_line, range(1, life.lines + 1 if life.lines < MANY_LINES else 1))


def jobs() -> Iterator[Job]:
    yield Job("version-1", a_book_of_version_1, open_it, lambda now: brought_over(now, 1), BIG)
    yield Job("version-2", a_book_of_version_2, open_it, lambda now: brought_over(now, 2), BIG)
    yield Job("backup", a_backup_long_ago, keep_one, with_its_backups, SMALL)
    yield Job("aside", a_damaged_book, open_it, put_right, SMALL)
    yield Job("import", a_book_and_a_file, take_in, all_or_nothing, SMALL // 3)


def a_book_of_version_1(folder: Path) -> None:
    version_1(folder / "book.sqlite", OLD_TAKES)


def a_book_of_version_2(folder: Path) -> None:
    version_2(folder / "book.sqlite", OLD_TAKES // 6)


def open_it(folder: Path) -> None:
    PracticeBook(folder / "book.sqlite").close()


def keep_one(folder: Path) -> None:
    with PracticeBook(folder / "book.sqlite") as book:
        keep(book)


def brought_over(folder: Path, version: int) -> None:
    """All takes are there, in the old form or in the new one; then the next coach brings them over;
    and no copy of the old book is anything else than that."""
    path = folder / "book.sqlite"
    was = takes_in(folder.with_name("before") / "book.sqlite")
    assert len(was) > OLD_TAKES
    assert takes_in(path) == was
    open_it(folder)
    assert takes_in(path) == was
    assert takes_in(folder / f"book-version-{version}.sqlite") == was


def takes_in(path: Path) -> list[tuple]:
    """What no version may lose."""
    with opened(path) as db:
        version = schema.version_of(db)
        heard = "take_json" if version == 1 else "take_z"
        tables = "takes" if version == 1 else "takes JOIN evidence ON take = id"
        rows = db.execute(f"SELECT id, kept_utc, drill, passed, {heard} FROM {tables} ORDER BY id")
        return [(*row, text if version == 1 else unpacked(text)) for *row, text in rows]


def a_backup_long_ago(folder: Path) -> None:
    path = folder / "book.sqlite"
    filled(path, TAKES)
    (made,) = backups(path)
    made.rename(made.with_name(LONG_AGO))


def with_its_backups(folder: Path) -> None:
    path = folder / "book.sqlite"
    with PracticeBook(path) as book:
        assert not book.remarks, book.remarks
        assert len(book.takes()) in (TAKES, TAKES + 1)
    for backup in backups(path):
        assert len(takes_in(backup)) in (TAKES, TAKES + 1)
    assert (folder / FOLDER / LONG_AGO).exists()
    keep_one(folder)
    assert len(backups(path)) == 2
    assert half_made(path) == []


def a_damaged_book(folder: Path) -> None:
    filled(folder / "book.sqlite", TAKES)
    filled(folder / "book.sqlite", 1, first=TAKES + 1)
    spoil(folder / "book.sqlite")


def put_right(folder: Path) -> None:
    """The next coach has what the backup had, and the damaged book is still there."""
    path = folder / "book.sqlite"
    damaged = (folder.with_name("before") / "book.sqlite").read_bytes()
    open_it(folder)
    with PracticeBook(path) as book:
        assert not book.remarks, book.remarks
        assert len(book.takes()) == TAKES
    assert damaged in [place.read_bytes() for place in folder.glob("book-damaged-*.sqlite")]


def a_book_and_a_file(folder: Path) -> None:
    fill(folder / "from.sqlite", killed_merge.TAKES)
    PracticeBook(folder / "book.sqlite").close()


def take_in(folder: Path) -> None:
    killed_merge.merge_all(folder / "book.sqlite", _records(folder))


def all_or_nothing(folder: Path) -> None:
    """Taken in once more, there is all of it, once."""
    path = folder / "book.sqlite"
    killed_merge.look_at(path)
    take_in(folder)
    assert killed_merge.look_at(path) == killed_merge.TAKES


@cache
def _records(folder: Path) -> list[Record]:
    return list(leaving_records(folder / "from.sqlite"))


if __name__ == "__main__":
    main()
