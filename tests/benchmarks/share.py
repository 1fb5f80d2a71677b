"""A record of 10,000 takes of 30 notes out to a file and into another book.

    python -m tests.benchmarks.share [TAKES]

The takes are those of `tests.benchmarks.book`: 500 different ones, kept over and over, each under a
uid of its own.  Each command runs in a process of its own, whose peak of memory is told.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from uuid import uuid4

from coach.book.practice import PracticeBook
from coach.core.judge import judge_take
from coach.core.rules import Rules
from tests.benchmarks.book import DIFFERENT, DRILLS, one_take
from tests.book.making import drill_of

TAKES = 10_000


def main() -> None:
    if sys.argv[1:2] == ["--in"]:
        measured(sys.argv[2:])
        return
    takes = int(sys.argv[1]) if sys.argv[1:] else TAKES
    with tempfile.TemporaryDirectory() as folder:
        here, there = Path(folder) / "here", Path(folder) / "there"
        fill(here / "practice.sqlite", takes)
        print(f"{takes:,} takes: {size(here / 'practice.sqlite')} of book")
        out = Path(folder) / "all.jsonl"
        command(here, "export", str(out))
        print(f"  {size(out)}")
        command(here, "export", str(out.with_suffix(".csv")))
        notes = out.with_stem("notes").with_suffix(".csv")
        command(here, "export", str(notes), "--notes")
        print(f"  {size(notes)}")
        command(there, "import", str(out))
        command(there, "import", str(out))


def fill(path: Path, takes: int) -> None:
    """The first takes by `append`, the others as copies of their rows."""
    path.parent.mkdir()
    random = Random(1)
    with PracticeBook(path) as book:
        for number in range(min(DIFFERENT, takes)):
            take = one_take(number % DRILLS, random)
            book.append(take, judge_take(take, Rules()), drill_of(take, f"drill-{number % DRILLS}"))
        for start in range(DIFFERENT, takes, DIFFERENT):
            book.rewrite(lambda db, start=start: copied(db, start))


def copied(db, start: int) -> None:
    columns = [name for _, name, *_ in db.execute("PRAGMA table_info(takes)")]
    chosen = ", ".join({"id": "id + ?1", "uid": "newuid()"}.get(name, name) for name in columns)
    db.create_function("newuid", 0, lambda: uuid4().hex)
    db.execute("BEGIN")
    db.execute(f"INSERT INTO takes SELECT {chosen} FROM takes WHERE id <= ?2", (start, DIFFERENT))
    db.execute(
        "INSERT INTO evidence SELECT take + ?, take_z, report_z FROM evidence WHERE take <= ?",
        (start, DIFFERENT),
    )
    db.execute("COMMIT")


def command(home: Path, *words: str) -> None:
    own = [sys.executable, "-m", "tests.benchmarks.share", "--in", *words]
    subprocess.run(own, check=True, env={**os.environ, "COACH_HOME": str(home)})


def measured(words: list[str]) -> None:
    from coach.cli import main as coach

    begun = time.perf_counter()
    status = coach(words)
    spent, busy = time.perf_counter() - begun, time.process_time()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(f"{words[0]}: {spent:.1f} s ({busy:.1f} s of one core), {peak:.0f} MB at most, {status}")


def size(path: Path) -> str:
    return f"{path.stat().st_size / 1e6:.0f} MB"


if __name__ == "__main__":
    main()
