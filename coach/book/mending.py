"""Entries that no coach wrote, in a book that sqlite finds sound: told by the kinds and bounds of
their values, and left out, so that nothing that reads the book has to look for them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

from coach.book.backup import copy_book, free_name
from coach.book.records import take_from_json, unpacked
from coach.book.schema import transaction

_WHOLE = "typeof({0}) = 'integer' AND {0} BETWEEN -9007199254740992 AND 9007199254740992"
_NUMBER = "typeof({0}) IN ('real', 'integer') AND {0} BETWEEN"
# What stands in a column; a question mark behind it: or nothing.
_KINDS = {
    "whole": _WHOLE,
    "count": "typeof({0}) = 'integer' AND {0} BETWEEN 0 AND 1000000000000",
    "day": f"typeof({{0}}) = 'integer' AND {{0}} BETWEEN 1 AND {date.max.toordinal()}",
    "number": f"{_NUMBER} -1e15 AND 1e15",
    "amount": f"{_NUMBER} 0 AND 1e15",
    "share": f"{_NUMBER} 0 AND 1",
    "bpm": f"{_NUMBER} 0.01 AND 100000",
    "text": "typeof({0}) = 'text'",
    "moment": (
        "typeof({0}) = 'text' AND {0} GLOB '[0-9][0-9][0-9][0-9]-*T*' AND julianday({0}) NOT NULL"
    ),
    "uid": "typeof({0}) = 'text' AND length({0}) = 32 AND {0} NOT GLOB '*[^0-9a-f]*'",
    "packed": "typeof({0}) = 'blob'",
}
# Those that others refer to come last: what they belong to goes with them.
_COLUMNS = {
    "evidence": {"take": "whole", "take_z": "packed", "report_z": "packed"},
    "tallies": {
        "player": "whole", "instrument": "text", "kind": "text", "name": "text", "day": "day",
        "count": "count", "clean": "count", "n_values": "count", "total": "number",
        "squares": "amount",
    },
    "ceilings": {
        "player": "whole", "passage": "whole", "utc": "moment", "day": "day",
        "estimate_bpm": "bpm", "low_bpm": "bpm", "high_bpm": "bpm",
    },
    "goals": {
        "player": "whole", "drill": "text", "instrument": "text", "goal_bpm": "bpm",
        "due_day": "day?", "set_utc": "moment", "assignment": "whole?",
    },
    "plans": {
        "player": "whole", "instrument": "text", "day": "day", "made_utc": "moment",
        "concert_day": "day?", "plan_json": "text",
    },
    "elsewhere": {
        "uid": "uid", "player": "whole", "day": "day", "minutes": "amount", "what": "text",
    },
    "instruments": {"player": "whole", "name": "text", "chosen": "whole"},
    "assignments": {
        "uid": "uid", "player": "whole", "title": "text", "teacher": "text", "words": "text",
        "due_day": "day?", "received_utc": "moment", "goals_json": "text",
    },
    "takes": {
        "kept_utc": "moment", "day": "day", "uid": "uid", "player": "whole", "session": "whole?",
        "passage": "whole?", "drill": "text", "title": "text", "instrument": "text",
        "rules": "text", "tempo_bpm": "bpm", "notes": "count", "clean": "count",
        "counted": "count", "accuracy": "share", "passed": "whole", "lost_frames": "count",
        "seconds": "amount", "offset_ms": "number?", "evenness_cv": "number?",
        "spread_ms": "number?",
    },
    "sessions": {
        "player": "whole", "started_utc": "moment", "command": "text", "ended_utc": "moment?",
        "ended": "text?",
    },
    "passages": {
        "drill": "text", "instrument": "text", "notes": "count", "digest": "text",
        "passage_json": "text", "scale": "text?", "tonguing": "text?", "notes_a_click": "amount",
    },
}  # fmt: skip
# Beyond the kinds of single columns.
_TOGETHER = {
    "takes": "clean <= counted AND counted <= notes",
    "tallies": "clean <= count",
    "ceilings": "low_bpm <= high_bpm",
}


def mend(db: sqlite3.Connection, path: Path, day: int, *, deep: bool = False) -> str:
    """Leave out what no coach wrote; a sentence that says so, and where it still is: in a copy made
    before.  "" if there is nothing.  `deep`: every packed take is looked at as well."""
    found = _found(db, deep=deep)
    players = _odd_players(db)
    if not found and not players:
        return ""
    aside = free_name(path, day)
    copy_book(db, aside)
    with transaction(db):
        for table, rows in found.items():
            for row in rows:
                _leave_out(db, table, row)
        for player in players:
            _name_anew(db, player)
    many = sum(map(len, found.values())) + len(players)
    entries = f"{many} entr{'y' if many == 1 else 'ies'}"
    return f"The practice book held {entries} that no coach wrote; as it was it is {aside.name}."


def _found(db: sqlite3.Connection, *, deep: bool) -> dict[str, list[Any]]:
    """By table the keys of the rows that no coach wrote."""
    found = {table: _odd_rows(db, table) for table in _COLUMNS}
    for table, (column, fits) in _TEXTS.items():
        found[table] += list(_unfit(db, table, column, fits))
    if deep:
        found["takes"] += list(_unfit_takes(db))
    return {table: rows for table, rows in found.items() if rows}


def _odd_rows(db: sqlite3.Connection, table: str) -> list[Any]:
    tests = [_test(column, kind) for column, kind in _COLUMNS[table].items()]
    if table in _TOGETHER:
        tests.append(_TOGETHER[table])
    fits = " AND ".join(f"({test})" for test in tests)
    # What is neither true nor false does not fit.
    return db.execute(f"SELECT {_key(table)} FROM {table} WHERE ({fits}) IS NOT 1").fetchall()


def _test(column: str, kind: str) -> str:
    test = _KINDS[kind.removesuffix("?")].format(column)
    return f"{column} IS NULL OR ({test})" if kind.endswith("?") else test


# Of tables without a number of their own.
_KEYS = {
    "evidence": "take",
    "tallies": "player, instrument, kind, name, day",
    "goals": "player, drill, instrument",
    "plans": "player, instrument, day",
    "elsewhere": "uid",
    "instruments": "player, name",
}


def _key(table: str) -> str:
    return _KEYS.get(table, "id")


def _leave_out(db: sqlite3.Connection, table: str, row: Any) -> None:
    """With all that belongs to it; takes keep the figures of a passage that is none."""
    if table == "passages":
        db.execute("UPDATE takes SET passage = NULL WHERE passage = ?", row)
        db.execute("DELETE FROM ceilings WHERE passage = ?", row)
    if table == "evidence":
        table = "takes"
        where = "id = ?"
    else:
        where = " AND ".join(f"{column} IS ?" for column in _key(table).split(", "))
    db.execute(f"DELETE FROM {table} WHERE {where}", row)


def _odd_players(db: sqlite3.Connection) -> list[int]:
    """Their takes are not to be lost: they get another name and another uid."""
    fits = f"{_test('name', 'text')} AND {_test('uid', 'uid')}"
    chosen = _test("chosen_utc", "moment?")
    rows = db.execute(f"SELECT id FROM players WHERE ({fits} AND ({chosen})) IS NOT 1")
    return [number for (number,) in rows]


def _name_anew(db: sqlite3.Connection, player: int) -> None:
    db.execute(
        "UPDATE players SET uid = lower(hex(randomblob(16))), chosen_utc = NULL,"
        " name = CASE WHEN typeof(name) = 'text' THEN name ELSE 'player ' || id END WHERE id = ?",
        (player,),
    )


def _unfit(
    db: sqlite3.Connection, table: str, column: str, fits: Callable[[Any], bool]
) -> Iterator[Any]:
    """Keys of rows whose JSON is none, or is none of that kind."""
    for text, *key in db.execute(f"SELECT {column}, {_key(table)} FROM {table}").fetchall():
        try:
            fit = fits(json.loads(text))
        except (ValueError, TypeError, KeyError, RecursionError):
            fit = False
        if not fit and isinstance(text, str):  # any other was found by its kind
            yield tuple(key)


def _is_goals(data: Any) -> bool:
    return isinstance(data, list) and all(
        isinstance(drill, str)
        and isinstance(instrument, str)
        and isinstance(bpm, int | float)
        and 0.01 <= bpm <= 100_000
        and (due_day is None or (isinstance(due_day, int) and 0 < due_day <= _LAST_DAY))
        for drill, instrument, bpm, due_day in data
    )


def _is_plan(data: Any) -> bool:
    names = data["names"]
    named = isinstance(names, list) and all(isinstance(name, str) for name in names)
    return named and isinstance(data["plan"], dict)


_LAST_DAY = date.max.toordinal()
_TEXTS: dict[str, tuple[str, Callable[[Any], bool]]] = {
    "assignments": ("goals_json", _is_goals),
    "plans": ("plan_json", _is_plan),
    "passages": ("passage_json", lambda data: isinstance(data, list)),
}


def _unfit_takes(db: sqlite3.Connection) -> Iterator[Any]:
    for number, take_z in db.execute("SELECT take, take_z FROM evidence"):
        try:
            take_from_json(unpacked(take_z))
        except ValueError:
            yield (number,)
