"""Who plays: the players of a book, the one chosen last, what they play."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from uuid import uuid4

# Who plays as long as nobody gave a name.
NAMELESS = "player"
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Player:
    """`uid` names the player in all books, `id` in this one."""

    id: int
    name: str
    uid: str
    takes: int
    chosen: bool
    instrument: str | None


def players(db: sqlite3.Connection) -> list[Player]:
    """By name; the one who plays is `chosen`."""
    now_playing, *_ = _chosen(db)
    rows = db.execute(
        "SELECT id, name, uid, (SELECT COUNT(*) FROM takes WHERE player = players.id),"
        " (SELECT name FROM instruments WHERE player = players.id AND chosen)"
        " FROM players ORDER BY name"
    )
    return [
        Player(number, name, uid, takes, number == now_playing, instrument)
        for number, name, uid, takes, instrument in rows
    ]


def player_named(db: sqlite3.Connection, name: str | None) -> tuple[int, str] | None:
    """Number and name of that player, None if there is none; no name: of the one chosen last."""
    if name is None:
        return _chosen(db)
    row = db.execute("SELECT id, name FROM players WHERE name = ?", (name,)).fetchone()
    return None if row is None else (int(row[0]), str(row[1]))


def _chosen(db: sqlite3.Connection) -> tuple[int, str]:
    # NULL comes last in descending order: the first player, as long as nobody was chosen.
    row = db.execute("SELECT id, name FROM players ORDER BY chosen_utc DESC, id LIMIT 1").fetchone()
    return add_player(db, NAMELESS) if row is None else (int(row[0]), str(row[1]))


def add_player(db: sqlite3.Connection, name: str, uid: str | None = None) -> tuple[int, str]:
    """Number and name of the new player; IntegrityError if the name or the uid is taken."""
    made = db.execute("INSERT INTO players (name, uid) VALUES (?, ?)", (name, uid or uuid4().hex))
    return int(made.lastrowid or 0), name


def choose_player(db: sqlite3.Connection, name: str, utc: str) -> None:
    db.execute("UPDATE players SET chosen_utc = ? WHERE name = ?", (utc, name))


def rename_player(db: sqlite3.Connection, name: str, new: str) -> None:
    """IntegrityError if there is one of that name."""
    db.execute("UPDATE players SET name = ? WHERE name = ?", (new, name))


def choose_instrument(db: sqlite3.Connection, player: int, instrument: str) -> None:
    """What the player plays where nothing else is said."""
    db.execute("UPDATE instruments SET chosen = 0 WHERE player = ?", (player,))
    db.execute(
        "INSERT INTO instruments (player, name, chosen) VALUES (?, ?, 1)"
        " ON CONFLICT DO UPDATE SET chosen = 1",
        (player, instrument),
    )


def chosen_instrument(db: sqlite3.Connection, player: int) -> str | None:
    row = db.execute(
        "SELECT name FROM instruments WHERE player = ? AND chosen", (player,)
    ).fetchone()
    return None if row is None else str(row[0])
