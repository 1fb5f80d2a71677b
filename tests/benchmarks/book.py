"""The practice book after five years: 100,000 takes of 30 notes, 3 million notes, 55 a day until
yesterday; 40 passages, each with a goal, are worked at all the time.

    python -m tests.benchmarks.book              times and sizes, whole commands too
    python -m tests.benchmarks.book notes        also what a table of all notes would add
    python -m tests.benchmarks.book kills 500    a coach killed so many times

The takes are 500 different ones, kept over and over at tempi that come and go.  Files come into
being in a temporary folder.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

from coach.book.backup import FOLDER
from coach.book.practice import PracticeBook
from coach.book.records import packed, take_to_json, unpacked
from coach.cli import main as main_of_coach
from coach.core.judge import judge_take
from coach.core.planning.goals import Goal
from coach.core.rules import Rules
from coach.core.take import Take
from tests.book.making import drill_of
from tests.making import attacks_of, plan_of

TAKES, NOTES, DIFFERENT, A_DAY, DRILLS = 100_000, 30, 500, 55, 40
NAMES = 60
DAYS = TAKES // A_DAY


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "practice.sqlite"
        if sys.argv[1:2] == ["kills"]:
            kill(path, int(sys.argv[2]))
            return
        fill(path)
        figures(path)
        commands(path)
        if sys.argv[1:] == ["notes"]:
            table_of_notes(path)


def kill(path: Path, kills: int) -> None:
    """While keeping takes, a fifth as often in each of the other things, and at every line."""
    for program, place, many in (
        ("tests.book.killed", path, kills),
        ("tests.book.killed_once", path.parent / "random", kills // 5),
        ("tests.book.killed_once", path.parent / "every-line", 0),
    ):
        command = [sys.executable, "-m", program, str(place), str(many), "1"]
        subprocess.run(command, check=True)


def one_take(drill: int, rng: Random) -> Take:
    """Thirty notes with a spread of 15 ms, heard as the coach hears them."""
    written = Random(drill)
    pitches = [written.randint(48, 72) for _ in range(NOTES)]
    plan = plan_of(pitches, length_beats=Fraction(1, 4))
    attacks = [
        replace(
            attack,
            frame=attack.frame + round(rng.gauss(0, 720)),
            pitch=attack.pitch + rng.gauss(0, 0.05),
            level_db=rng.gauss(-20, 2),
            rise_frames=round(rng.uniform(300, 900)),
            lag_frames=round(rng.gauss(0, 300)),
            confidence=rng.random(),
            due=number,
            muffled=rng.random(),
        )
        for number, attack in enumerate(attacks_of(plan))
    ]
    return Take(1, plan, tuple(attacks), (), True)


def fill(path: Path) -> None:
    """The first takes by `append`, the others as copies of their rows."""
    rng = Random(1)
    sizes: list[int] = []
    with PracticeBook(path) as book:
        begun = time.perf_counter()
        for number in range(DIFFERENT):
            take = one_take(number % DRILLS, rng)
            drill = drill_of(take, f"drill-{number % DRILLS}")
            book.append(take, judge_take(take, Rules()), drill)
            sizes.append(len(take_to_json(take)))
            book.diary.set_goal(Goal(drill.name, drill.instrument, 132.0))
        spent = time.perf_counter() - begun
    print(f"append: {1000 * spent / DIFFERENT:.1f} ms a take, judging it included")
    print(f"one take: {sum(sizes) / DIFFERENT:.0f} bytes of JSON")
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("BEGIN")
    columns = [name for _, name, *_ in db.execute("PRAGMA table_info(takes)")]
    made = {"id": "takes.id + ?", "uid": "lower(hex(randomblob(16)))"}
    chosen = ", ".join(made.get(name, name) for name in columns)
    for start in range(DIFFERENT, TAKES, DIFFERENT):
        db.execute(
            f"INSERT INTO takes SELECT {chosen} FROM takes WHERE id <= ?", (start, DIFFERENT)
        )
        db.execute(
            "INSERT INTO evidence SELECT take + ?, take_z, report_z FROM evidence WHERE take <= ?",
            (start, DIFFERENT),
        )
    first = today() - DAYS
    db.execute(
        "UPDATE takes SET day = ?1 + (id - 1) / ?2, tempo_bpm = 80 + id * 7 % 50,"
        " kept_utc = strftime('%Y-%m-%dT12:00:00.000Z', ?1 + (id - 1) / ?2 + 1721424.5)",
        (first, A_DAY),
    )
    db.executemany(
        "INSERT INTO tallies VALUES (1, 'double-horn', ?, ?, ?, 20, 18, 20, 55.5, 1234.5)",
        ((kind, name, day) for day in range(first, today()) for kind, name in kinds()),
    )
    db.execute("COMMIT")
    db.close()


def today() -> int:
    return date.today().toordinal()


def kinds() -> Iterator[tuple[str, str]]:
    return (("move", f"{k}>{k + 1}") for k in range(NAMES))


def figures(path: Path) -> None:
    print(f"{TAKES:,} takes of {NOTES} notes: {path.stat().st_size / 1e6:.0f} MB")
    shutil.rmtree(path.parent / FOLDER)
    timed("opening that checks and backs up: after a week", lambda: PracticeBook(path).close())
    timed("opening", lambda: PracticeBook(path).close())
    with PracticeBook(path) as book:
        last = today()
        timed("take_rows, all", book.take_rows)
        timed("take_rows, 90 days", lambda: book.take_rows(last - 90))
        timed("tallies, all", lambda: book.tallies("double-horn"))
        timed("tallies, 90 days", lambda: book.tallies("double-horn", last - 90))
        timed("latest, 30 takes", lambda: book.latest(30, "drill-3"))
        timed("earlier", lambda: book.earlier(("drill-3",), NOTES))
        timed("drills", lambda: book.drills("double-horn"))
        timed("days", lambda: book.days("drill-3"))
        timed("PRAGMA quick_check", lambda: book._db.execute("PRAGMA quick_check").fetchall())


def commands(path: Path) -> None:
    """Review and plan, as functions and as whole commands."""
    os.environ["COACH_HOME"] = str(path.parent)
    out = path.parent / "out.json"
    for command in (
        ["review", "--json", str(out)],
        ["today", "--json", str(out)],
        ["review", "--html", str(path.parent / "out.html"), "--replace"],
        ["next", "drill-3"],
    ):
        words = f"coach {' '.join(Path(word).name for word in command)}"
        timed(f"{words}, in process, first time", lambda c=command: silently(c))
        timed(f"{words}, in process, again", lambda c=command: silently(c))
        whole = [sys.executable, "-m", "coach", *command]
        timed(f"{words}, the whole command", lambda w=whole: run_quietly(w))
    start = [sys.executable, "-c", "pass"]
    timed("Python's own start", lambda: run_quietly(start))


def run_quietly(command: list[str]) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def silently(command: list[str]) -> None:
    with contextlib.redirect_stdout(io.StringIO()):
        assert main_of_coach(command) == 0


def timed(what: str, call: Callable[[], Any]) -> None:
    begun = time.perf_counter()
    found = call()
    spent = time.perf_counter() - begun
    many = f" ({len(found):,})" if isinstance(found, list) else ""
    print(f"  {1000 * spent:7.0f} ms  {what}{many}")


def table_of_notes(path: Path) -> None:
    """What one row a note would add to the file, and how quickly the notes come out of each."""
    db = sqlite3.connect(path, isolation_level=None)
    before = path.stat().st_size
    db.execute(
        "CREATE TABLE notes (take INTEGER, place INTEGER, pitch REAL, verdict TEXT, fingering TEXT,"
        " syllable TEXT, deviation_ms REAL, level_db REAL, rise_ms REAL, lag_ms REAL,"
        " confidence REAL, PRIMARY KEY (take, place)) WITHOUT ROWID"
    )
    db.execute("BEGIN")
    rows = db.execute("SELECT report_z FROM evidence WHERE take <= ?", (DIFFERENT,)).fetchall()
    notes = [json.loads(unpacked(data))["notes"] for (data,) in rows]
    begun = time.perf_counter()
    for take in range(1, TAKES + 1):
        db.executemany(
            "INSERT INTO notes VALUES (?, ?, ?, ?, '1', 'ta', ?, ?, ?, ?, ?)",
            [
                (
                    take,
                    n["index"],
                    n["midi"],
                    n["verdict"],
                    n["deviation_ms"],
                    n["level_db"],
                    n["rise_ms"],
                    n["lag_ms"],
                    n["confidence"],
                )
                for n in notes[take % DIFFERENT]
            ],
        )
    db.execute("COMMIT")
    print(f"  {time.perf_counter() - begun:.0f} s to write a table of notes")
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    print(f"  {(path.stat().st_size - before) / 1e6:.0f} MB more")
    last = TAKES - 1000
    timed(
        "notes of the last 1,000 takes from the table",
        lambda: db.execute("SELECT * FROM notes WHERE take > ?", (last,)).fetchall(),
    )
    timed(
        "notes of the last 1,000 takes from the packed reports",
        lambda: [
            json.loads(unpacked(data))["notes"]
            for (data,) in db.execute("SELECT report_z FROM evidence WHERE take > ?", (last,))
        ],
    )
    text = unpacked(rows[0][0])
    print(f"  one report: {len(text)} bytes of JSON, {len(packed(text))} packed")
    db.close()


if __name__ == "__main__":
    main()
