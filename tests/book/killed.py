"""A coach that keeps takes is killed again and again, at any instant: in opening, keeping, closing
and backing up.

    python -m tests.book.killed BOOK KILLS SEED

After each kill the book must be sound, whole, and hold every take that was reported as kept; the
first thing that is wrong ends the program with AssertionError.  Prints how many kills and takes.
"""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import sys
import time
from pathlib import Path
from random import Random

from coach.book.backup import FOLDER, backups
from coach.book.practice import PracticeBook
from coach.core.judge import judge_take
from coach.core.profile.tally import Tally
from coach.core.rules import Rules
from tests.book.making import drill_of, numbered, take_of

LONGEST_S = 0.12
SESSION_TAKES = 4


def main() -> None:
    path, kills, rng = Path(sys.argv[1]), int(sys.argv[2]), Random(int(sys.argv[3]))
    told: set[int] = set()
    for kill in range(kills):
        told |= told_until_killed(path, 1 + kill * 100_000, rng.uniform(0, LONGEST_S))
        look_at(path, told, kill + 1)
        if rng.random() < 0.5:  # so that the next coach makes a backup
            shutil.rmtree(path.parent / FOLDER, ignore_errors=True)
    sys.stdout.write(f"{kills} {len(told)}\n")


def told_until_killed(path: Path, first: int, seconds: float) -> set[int]:
    """The takes that a coach reported as kept before it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            play(path, first, writing)
        finally:
            os._exit(1)
    os.close(writing)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the coach ended by itself"
    with os.fdopen(reading) as said:
        return {int(line) for line in said if line.endswith("\n")}


def play(path: Path, number: int, out: int) -> None:
    """Sessions of a few takes each, for ever; says which take was kept."""
    take = take_of(notes=2)
    report, drill = judge_take(take, Rules()), drill_of(take)
    while True:
        with PracticeBook(path) as book:
            book.begin_session("killed")
            for _ in range(SESSION_TAKES):
                tally = Tally("syllable", "ta", number % 7, 1, 1, 1, 0.5, 0.25)
                book.append(numbered(take, number), report, drill, (tally,))
                os.write(out, f"{number}\n".encode())
                number += 1


def look_at(path: Path, told: set[int], kills: int) -> None:
    with PracticeBook(path) as book:
        assert book.remarks == ()
        kept = [int(row.tempo_bpm) for row in book.take_rows()]
        tallied = sum(tally.count for tally in book.tallies("double-horn"))
    assert len(set(kept)) == len(kept), "a take is in the book twice"
    assert told <= set(kept), f"lost: {sorted(told - set(kept))}"
    # A take may be in the book that the coach was killed before it could report.
    assert len(kept) <= len(told) + kills
    assert tallied == len(kept)
    for place in (path, *backups(path)):
        sound(place)


def sound(place: Path) -> None:
    db = sqlite3.connect(place)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)], place
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    counts = "SELECT (SELECT count(*) FROM takes), (SELECT count(*) FROM evidence)"
    takes, evidence = db.execute(counts).fetchone()
    assert takes == evidence
    db.close()


if __name__ == "__main__":
    main()
