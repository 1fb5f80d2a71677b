"""A book in which anything may stand: an sqlite file of our schema, written by another hand."""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
import tempfile
import zlib
from contextlib import closing
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from coach.book.practice import PracticeBook
from coach.book.records import MOST_BYTES
from coach.errors import CoachError
from tests.book.making import keep
from tests.fuzz.odd import NUMBERS, TEXTS, as_json, spoiled
from tests.fuzz.plain import command, said
from tests.sharing import fill

COMMANDS = (
    ("review",),
    ("today",),
    ("next",),
    ("goal",),
    ("player",),
    ("player", "player"),
    ("listen", "--list"),
    ("listen", "last", "--out", "heard.wav"),
    ("export", "all.jsonl"),
    ("export", "all.csv"),
    ("export", "all.csv", "--notes"),
    ("return", "back.jsonl"),
    ("review", "--html", "review.html"),
    ("played", "20"),
    ("fingering", "turns"),
    ("player", "player", "--erase", "--yes"),
)


@cache
def _book() -> bytes:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "practice.sqlite"
        fill(path, takes=3)
        return path.read_bytes()


def _odd(old: Any, random: Random) -> Any:
    """Something else in place of a value of the book; texts that hold JSON are spoiled inside."""
    if random.random() < 0.5:
        with contextlib.suppress(ValueError, RecursionError, zlib.error):  # spoiled already
            return _inside(old, random)
    match random.randrange(6):
        case 0:
            return random.choice([n for n in NUMBERS if abs(n) < 2**63])  # as sqlite has them
        case 1:
            return random.choice([2**63 - 1, -(2**63), 10**9, 0, -1])
        case 2:
            return random.choice([b"", b"\0", b"\xff\xfe", zlib.compress(b"[]"), _bomb()])
        case 3:
            return None
    return random.choice(TEXTS)


def _inside(old: Any, random: Random) -> Any:
    """ValueError if it holds no JSON."""
    if isinstance(old, bytes):
        text = as_json(spoiled(json.loads(zlib.decompress(old)), random), random)
        return zlib.compress(text.encode("utf-8", "surrogatepass"))
    if not isinstance(old, str) or old[:1] not in "[{":
        raise ValueError
    return as_json(spoiled(json.loads(old), random), random)


@cache
def _bomb() -> bytes:
    """Some megabytes more than there may be."""
    return zlib.compress(b" " * (MOST_BYTES + 4_000_000), 1)


def spoil(path: Path, random: Random) -> str:
    """One to three values of the book changed; the name of the last table."""
    table = ""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.text_factory = bytes
        db.execute("PRAGMA ignore_check_constraints = ON")
        names = [
            str(name, "utf-8")
            for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        ]
        for _ in range(random.randint(1, 3)):
            table = random.choice(names)
            columns = [str(row[1], "utf-8") for row in db.execute(f"PRAGMA table_info({table})")]
            column = random.choice(columns)
            rows = db.execute(f"SELECT {column} FROM {table}").fetchall()
            if not rows:
                continue
            (old,) = random.choice(rows)
            where = old
            if isinstance(old, bytes) and not _is_packed(old):
                where = old = str(old, "utf-8", "replace")
            new = _odd(old, random)
            if isinstance(new, str):
                new = new.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
            try:
                sql = f"UPDATE {table} SET {column} = ? WHERE {column} IS ?"
                db.execute(sql, (new, where))
            except (sqlite3.IntegrityError, OverflowError):
                continue
    return table


def _is_packed(data: bytes) -> bool:
    return data[:1] == b"x"


def book(random: Random, folder: Path) -> str:
    """Every command gives its answer or one sentence, and a take that is played is kept."""
    path = folder / "practice.sqlite"
    path.write_bytes(_book())
    spoil(path, random)
    asked = list(random.choice(COMMANDS))
    asked = [str(folder / word) if "." in word else word for word in asked]
    with patch.dict("os.environ", {"COACH_HOME": str(folder)}):
        status, _ = command(*asked)
        found = "error" if status else "answer"
        try:
            with PracticeBook(path) as open_book:
                keep(open_book)
        except CoachError as error:
            said(error)
            found += ", nothing kept"
    shutil.rmtree(folder / "backups", ignore_errors=True)
    return found
