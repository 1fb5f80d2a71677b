"""A coach that keeps takes is killed again and again, in opening, keeping, closing and backing up.

    python -m tests.book.killed BOOK KILLS SEED

After each kill the book must be sound, whole, and hold every take that was reported as kept; the
first thing that is wrong ends the program with AssertionError.  Prints how many kills and takes.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from random import Random

from coach.book.backup import FOLDER, backups
from coach.book.practice import PracticeBook
from coach.core.judge import judge_take
from coach.core.profile.tally import Tally
from coach.core.rules import Rules
from tests.book.dying import life_of, opened, run
from tests.book.making import drill_of, numbered, take_of

SESSIONS, SESSION_TAKES = 2, 4
# What so many takes add to the log and to the book, about.
LOG_BYTES, BOOK_BYTES = 120_000, 40_000


def main() -> None:
    path, kills, rng = Path(sys.argv[1]), int(sys.argv[2]), Random(int(sys.argv[3]))
    sys.stdout.write("{} {}\n".format(*keep_killing(path, kills, rng)))


def keep_killing(path: Path, kills: int, rng: Random) -> tuple[int, int]:
    """How many were killed (some are done before), and how many takes they said they kept."""
    life = life_of(lambda out: play(path.with_name("first.sqlite"), 1, out))
    told: set[int] = set()
    killed = 0
    for number in range(1, kills + 1):
        death = life.death(number, rng, _sizes(path, rng))
        said, dead = run(lambda out, first=1000 * number: play(path, first, out), death)
        killed += dead
        told |= set(map(int, said))
        look_at(path, told, killed)
        if rng.random() < 0.5:  # so that the next coach makes a backup
            shutil.rmtree(path.parent / FOLDER, ignore_errors=True)
    return killed, len(told)


def _sizes(path: Path, rng: Random) -> tuple[int, int]:
    """In the log, or where the book itself grows."""
    if not path.exists() or rng.random() < 0.5:
        return 1, LOG_BYTES
    return path.stat().st_size, path.stat().st_size + BOOK_BYTES


def play(path: Path, number: int, out: int) -> None:
    """Sessions of a few takes each; says which take was kept."""
    take = take_of(notes=2)
    report, drill = judge_take(take, Rules()), drill_of(take)
    for _ in range(SESSIONS):
        with PracticeBook(path) as book:
            book.begin_session("killed")
            for _ in range(SESSION_TAKES):
                tally = Tally("syllable", "ta", number % 7 + 1, 1, 1, 1, 0.5, 0.25)
                book.append(numbered(take, number), report, drill, (tally,))
                os.write(out, f"{number}\n".encode())
                number += 1


def look_at(path: Path, told: set[int], killed: int) -> None:
    with PracticeBook(path) as book:
        assert not book.remarks, book.remarks
        kept = [int(row.tempo_bpm) for row in book.take_rows()]
        tallied = sum(tally.count for tally in book.tallies("double-horn"))
    assert len(set(kept)) == len(kept), "a take is in the book twice"
    assert told <= set(kept), f"lost: {sorted(told - set(kept))}"
    # A take may be in the book that the coach was killed before it could report.
    assert len(kept) <= len(told) + killed
    assert tallied == len(kept)
    for place in (path, *backups(path)):
        with opened(place) as db:
            counts = "SELECT (SELECT count(*) FROM takes), (SELECT count(*) FROM evidence)"
            takes, evidence = db.execute(counts).fetchone()
            assert takes == evidence


if __name__ == "__main__":
    main()
