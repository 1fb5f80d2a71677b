"""What comes out of the book, as plain figures; and what the time is."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from coach.core.take import Take

# The player's calendar day of a moment in UTC as `date.toordinal` counts it: Julian days begin at
# noon, 1,721,424.5 of them before the day 0.
DAY = "CAST(julianday({utc}, 'localtime', 'start of day') - 1721424.5 AS INTEGER)"


@dataclass(frozen=True, slots=True)
class Kept:
    """A take as it was kept: the names of its drill, instrument and rule set beside it; `id` is its
    number in this book, `uid` its name in all books, `day` as `date.toordinal`."""

    id: int
    uid: str
    day: int
    drill: str
    instrument: str
    rules: str
    take: Take


@dataclass(frozen=True, slots=True)
class TakeRow:
    """The figures of one take.

    `day` is the calendar day as `date.toordinal` counts it; `counted` notes were judged ("unsure"
    left out), `clean` of them were clean; `seconds` go from the downbeat to the end.  `scale` and
    `tonguing` say what its passage is an example of (None: of nothing), with `notes_a_click` notes
    to one click (0: not known).
    """

    id: int
    uid: str
    day: int
    drill: str
    title: str
    instrument: str
    tempo_bpm: float
    notes: int
    clean: int
    counted: int
    accuracy: float
    passed: bool
    seconds: float
    offset_ms: float | None
    evenness_cv: float | None
    scale: str | None
    tonguing: str | None
    notes_a_click: float


@dataclass(frozen=True, slots=True)
class Ceiling:
    """The fastest clean tempo of a passage as it was estimated on `day`, and how sure: from
    `low_bpm` to `high_bpm`.  `digest` tells versions of the passage apart."""

    day: int
    instrument: str
    notes: int
    digest: str
    estimate_bpm: float
    low_bpm: float
    high_bpm: float


@dataclass(frozen=True, slots=True)
class Moment:
    """Now: in UTC as text, and the player's calendar day."""

    utc: str
    day: int


def now(db: sqlite3.Connection) -> Moment:
    """What sqlite's clock says."""
    day = DAY.format(utc="'now'")
    return Moment(*db.execute(f"SELECT strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), {day}").fetchone())
