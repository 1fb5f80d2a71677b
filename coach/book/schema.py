"""The schema, step by step: N.sql takes a book of version N - 1 to version N, all in one
transaction."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import resources
from typing import Any

from coach.book.entries import (
    passage_id,
    playing_seconds,
    report_figures,
    set_kinds,
    write_take,
)
from coach.book.records import take_from_json, unpacked
from coach.book.rows import DAY
from coach.core.profile.kinds import passage_kinds

VERSION = 3

# What a take of version 1 is brought over with.
_SAME = (
    "id, kept_utc, drill, title, instrument, rules, tempo_bpm, notes, accuracy, passed, lost_frames"
)


class NewerBookError(Exception):
    """It was written by a newer coach."""


@contextmanager
def transaction(db: sqlite3.Connection) -> Iterator[None]:
    """All or nothing; waits for another coach's (the connection's timeout at most)."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        # After a full disk sqlite may have rolled back by itself.
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def version_of(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate(db: sqlite3.Connection, before: Callable[[int], None]) -> None:
    """Bring the book to `VERSION`; NewerBookError if it is beyond that.

    `before` is called with the version of a book that has something in it, when no one else can
    write any more and nothing is changed yet.
    """
    if version_of(db) == VERSION:
        return
    with transaction(db):
        # Another coach may have been first.
        have = version_of(db)
        if have > VERSION:
            raise NewerBookError
        if 0 < have < VERSION:
            before(have)
        for number in range(have + 1, VERSION + 1):
            for statement in _statements(number):
                db.execute(statement)
            if number in _FILL:
                _FILL[number](db)
        db.execute(f"PRAGMA user_version = {VERSION}")


def _statements(number: int) -> Iterator[str]:
    """The statements of N.sql; executescript would end the transaction."""
    statement = ""
    text = resources.files("coach.book").joinpath(f"{number}.sql").read_text("utf-8")
    for line in text.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def bring_over(db: sqlite3.Connection) -> None:
    """The takes of version 1, with their figures out of what was kept beside them."""
    names = _SAME.split(", ")
    rows = db.execute(
        f"SELECT {DAY.format(utc='kept_utc')}, take_json, report_json, {_SAME} FROM takes_1"
        " ORDER BY id"
    )
    for day, take_json, report_json, *same in rows:
        figures = {**dict(zip(names, same, strict=True)), "day": day, "player": 1}
        told = _told(db, figures, take_json, report_json)
        write_take(db, {**figures, **told}, take_json, report_json)
    db.execute("DROP TABLE takes_1")


def _told(
    db: sqlite3.Connection, figures: dict[str, Any], take_json: str, report_json: str
) -> dict[str, Any]:
    """What the texts of an old take tell; one that can't be read comes over as it is."""
    try:
        report = report_figures(json.loads(report_json))
        plan = take_from_json(take_json).plan
    except (ValueError, KeyError, TypeError):
        return {"clean": 0, "counted": 0, "seconds": 0.0}
    passage = passage_id(db, figures["drill"], figures["instrument"], plan.exercise.passage)
    return {**report, "passage": passage, "seconds": playing_seconds(plan)}


def name_takes(db: sqlite3.Connection) -> None:
    """Uids for the takes of version 2 (the same in every copy of the book), and what their passages
    are examples of, as one take of each tells it."""
    db.create_function("named", 3, _named, deterministic=True)
    db.execute("UPDATE takes SET uid = named(id, kept_utc, drill)")
    db.execute("CREATE UNIQUE INDEX takes_by_uid ON takes (player, uid)")
    rows = db.execute(
        "SELECT passage, take_z FROM evidence JOIN"
        " (SELECT passage, MAX(id) AS last FROM takes WHERE passage IS NOT NULL GROUP BY passage)"
        " ON take = last"
    )
    for passage, take_z in rows.fetchall():
        try:
            exercise = take_from_json(unpacked(take_z)).plan.exercise
        except (ValueError, KeyError, TypeError):
            continue
        set_kinds(db, passage, passage_kinds(exercise.passage, exercise.transposition))


def _named(number: int, utc: str, drill: str) -> str:
    text = f"{number} {utc} {drill}"
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


# What a step can't do in SQL, done after it.
_FILL: dict[int, Callable[[sqlite3.Connection], None]] = {2: bring_over, 3: name_takes}
