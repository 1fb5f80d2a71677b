"""One file on its way into the book, record by record; see `merging`."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from coach.book.entries import (
    passage_id,
    playing_seconds,
    report_figures,
    set_kinds,
    write_session,
    write_take,
    write_tallies,
)
from coach.book.players import choose_instrument, chosen_instrument
from coach.book.records import digest_of, passage_digest, take_from_data
from coach.core.exercise import Exercise
from coach.core.profile.kinds import passage_kinds
from coach.core.profile.tallies import tallies_of
from coach.core.share.days import check_moment, day_of, due_day_of
from coach.core.share.takes import check_take, report_told
from coach.core.take import Take
from coach.errors import CoachError, FileError

Record = Mapping[str, Any]
# The usual fingerings of an instrument's notes; CoachError if there is no such instrument.
Fingered = Callable[[str, Exercise], Sequence[str | None]]
_TEXT: dict[str, Any] = {"separators": (",", ":"), "allow_nan": False}


@dataclass(slots=True)
class Merged:
    """How many records of each kind were new, and how many were there already."""

    new: Counter[str] = field(default_factory=Counter)
    there: Counter[str] = field(default_factory=Counter)

    def count(self, kind: str, *, new: bool) -> None:
        (self.new if new else self.there)[kind] += 1


class Merger:
    """One file on its way into the open transaction of `db`."""

    def __init__(
        self,
        db: sqlite3.Connection,
        player: int,
        now_utc: str,
        fingered: Fingered,
        merged: Merged,
    ) -> None:
        self._db, self._player, self._now_utc = db, player, now_utc
        self._fingered, self._merged = fingered, merged
        self._sessions: dict[str, int | None] = {}
        self._known: dict[tuple[str, str, str], int] = {}

    def add(self, where: str, record: Record) -> None:
        """FileError if the record can't be."""
        kind = record["record"]
        try:
            new = _KINDS[kind](self, record)
        except (CoachError, ValueError, KeyError, TypeError, ArithmeticError, IndexError) as error:
            why = error.what if isinstance(error, CoachError) else error
            hint = "ask for the file again"
            raise FileError(f"this {kind} can't be taken in ({why})", where, hint) from None
        if new is not None:
            self._merged.count(kind, new=new)

    def header(self, record: Record) -> None:
        """The instruments that the player plays, and the one chosen, if none is here."""
        player = record["player"] or {"instruments": (), "chosen": None}
        for name in player["instruments"]:
            self._plays(name)
        if player["chosen"] and chosen_instrument(self._db, self._player) is None:
            choose_instrument(self._db, self._player, player["chosen"])

    def passage(self, record: Record) -> bool:
        key = (record["drill"], record["instrument"], record["digest"])
        if self._passage(key) is not None:
            return False
        text = json.dumps(record["notes"], **_TEXT)
        if record["digest"] != digest_of(text):
            raise ValueError("its digest is not that of its notes")
        kinds = (record["scale"], record["tonguing"], record["notes_a_click"])
        self._db.execute(
            "INSERT INTO passages (drill, instrument, digest, notes, passage_json, scale,"
            " tonguing, notes_a_click) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (*key, len(record["notes"]), text, *kinds),
        )
        return True

    def session(self, record: Record) -> bool:
        started_utc, command = check_moment(record["started_utc"]), record["command"]
        found = self._db.execute(
            "SELECT id FROM sessions WHERE player = ? AND started_utc = ? AND command = ?",
            (self._player, started_utc, command),
        ).fetchone()
        number = found[0] if found else write_session(self._db, self._player, command, started_utc)
        self._sessions[started_utc] = number
        self._db.execute(
            "UPDATE sessions SET ended_utc = ?, ended = ? WHERE id = ? AND ended_utc IS NULL",
            (record["ended_utc"], record["ended"], number),
        )
        return not found

    def assignment(self, record: Record) -> bool:
        received_utc = check_moment(record["received_utc"] or self._now_utc)
        told = [record[name] for name in ("uid", "title", "teacher", "words")]
        goals = [
            (goal["drill"], goal["instrument"], goal["goal_bpm"], due_day_of(goal["due"]))
            for goal in record["goals"]
        ]
        return self._inserted(
            "INSERT OR IGNORE INTO assignments"
            " (player, uid, title, teacher, words, due_day, received_utc, goals_json)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            self._player,
            *told,
            due_day_of(record["due"]),
            received_utc,
            json.dumps(goals),
        )

    def goal(self, record: Record) -> bool:
        """The later one stays."""
        return self._inserted(
            "INSERT INTO goals (player, drill, instrument, goal_bpm, due_day, set_utc, assignment)"
            " VALUES (?1, ?2, ?3, ?4, ?5, ?6,"
            " (SELECT id FROM assignments WHERE player = ?1 AND uid = ?7))"
            " ON CONFLICT DO UPDATE SET goal_bpm = excluded.goal_bpm, due_day = excluded.due_day,"
            " set_utc = excluded.set_utc, assignment = excluded.assignment"
            " WHERE excluded.set_utc > set_utc",
            self._player,
            record["drill"],
            record["instrument"],
            record["goal_bpm"],
            due_day_of(record["due"]),
            check_moment(record["set_utc"]),
            record["assignment"],
        )

    def take(self, record: Record) -> bool:
        key = (self._player, record["uid"])
        if self._db.execute("SELECT 1 FROM takes WHERE player = ? AND uid = ?", key).fetchone():
            return False
        take = take_from_data(record["take"])
        check_take(take, record["report"])
        self._write_take(record, take)
        return True

    def _write_take(self, record: Record, take: Take) -> None:
        exercise, instrument = take.plan.exercise, record["instrument"]
        told = record["report"]
        day, figures = day_of(record["day"]), report_figures(told)
        report = report_told(take, told)
        tallies = tallies_of(report, exercise, self._fingered(instrument, exercise), day)
        write_take(
            self._db,
            {
                "kept_utc": check_moment(record["kept_utc"]),
                "day": day,
                "uid": record["uid"],
                "player": self._player,
                "session": self._session(record["session"]),
                "passage": self._passage_of(record["drill"], instrument, exercise),
                "drill": record["drill"],
                "title": record["title"],
                "instrument": instrument,
                "rules": record["rules"],
                "tempo_bpm": exercise.tempo_bpm,
                "notes": len(take.plan.dues),
                "accuracy": report.accuracy,
                "passed": int(told["passed"]),
                "lost_frames": take.lost_frames,
                "seconds": playing_seconds(take.plan),
                **figures,
            },
            json.dumps(record["take"], **_TEXT),
            json.dumps(told, **_TEXT),
        )
        self._plays(instrument)
        write_tallies(self._db, self._player, instrument, tallies)

    def ceiling(self, record: Record) -> bool:
        passage = self._passage((record["drill"], record["instrument"], record["digest"]))
        if passage is None:
            raise ValueError("its passage is not there: it has to stand before it")
        return self._inserted(
            "INSERT OR IGNORE INTO ceilings"
            " (player, passage, utc, day, estimate_bpm, low_bpm, high_bpm)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            self._player,
            passage,
            check_moment(record["utc"]),
            day_of(record["day"]),
            *(record[name] for name in ("estimate_bpm", "low_bpm", "high_bpm")),
        )

    def elsewhere(self, record: Record) -> bool:
        return self._inserted(
            "INSERT OR IGNORE INTO elsewhere (uid, player, day, minutes, what)"
            " VALUES (?, ?, ?, ?, ?)",
            record["uid"],
            self._player,
            day_of(record["day"]),
            record["minutes"],
            record["what"],
        )

    def plan(self, record: Record) -> bool:
        """The later one of a day stays."""
        text = json.dumps({"names": record["names"], "plan": record["plan"]}, allow_nan=False)
        return self._inserted(
            "INSERT INTO plans (player, instrument, day, made_utc, concert_day, plan_json)"
            " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET made_utc = excluded.made_utc,"
            " concert_day = excluded.concert_day, plan_json = excluded.plan_json"
            " WHERE excluded.made_utc > made_utc",
            self._player,
            record["instrument"],
            day_of(record["day"]),
            check_moment(record["made_utc"]),
            due_day_of(record["concert"]),
            text,
        )

    def drill(self, record: Record) -> None:
        """A file of its own, not in the book."""

    def _inserted(self, sql: str, *values: Any) -> bool:
        return self._db.execute(sql, values).rowcount > 0

    def _plays(self, instrument: str) -> None:
        self._db.execute(
            "INSERT OR IGNORE INTO instruments (player, name) VALUES (?, ?)",
            (self._player, instrument),
        )

    def _session(self, started_utc: str | None) -> int | None:
        if started_utc is not None and started_utc not in self._sessions:
            raise ValueError("its session is not there: it has to stand before it")
        return None if started_utc is None else self._sessions[started_utc]

    def _passage(self, key: tuple[str, str, str]) -> int | None:
        found = self._db.execute(
            "SELECT id FROM passages WHERE drill = ? AND instrument = ? AND digest = ?", key
        ).fetchone()
        return None if found is None else int(found[0])

    def _passage_of(self, drill: str, instrument: str, exercise: Exercise) -> int:
        """The version that was played, its kinds found out once."""
        key = (drill, instrument, passage_digest(exercise.passage))
        if key not in self._known:
            number = passage_id(self._db, drill, instrument, exercise.passage)
            kinds = passage_kinds(exercise.passage, exercise.transposition)
            set_kinds(self._db, number, kinds)
            self._known[key] = number
        return self._known[key]


_KINDS: dict[str, Callable[[Merger, Record], bool | None]] = {
    "header": Merger.header,
    "drill": Merger.drill,
    "passage": Merger.passage,
    "session": Merger.session,
    "assignment": Merger.assignment,
    "goal": Merger.goal,
    "take": Merger.take,
    "ceiling": Merger.ceiling,
    "elsewhere": Merger.elsewhere,
    "plan": Merger.plan,
}
