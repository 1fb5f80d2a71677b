"""What goes out of the book: one player's records as plain data, one after the other, so that a
hundred thousand takes are never in memory at once."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from coach.book.entries import Entry, TakeEntry
from coach.book.records import take_to_json, unpacked
from coach.book.rows import DAY
from coach.core.planning.worked import passage_of
from coach.core.share.days import date_of

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook

Record = dict[str, Any]
_DATES = ("day", "due", "concert")
_TAKE = "uid kept_utc day drill title instrument rules session take report"


@dataclass(frozen=True, slots=True)
class ExportChoice:
    """Takes and what belongs to them: of these passages (None: of all) and what was made of them,
    kept on `since_day` or later."""

    passages: frozenset[str] | None = None
    since_day: int = 0

    def has(self, drill: str) -> bool:
        return self.passages is None or not self.passages.isdisjoint((drill, passage_of(drill)))


class Leaving:
    """The records of the book's player, by kind; days as dates.

    `takes` are the numbers of the takes chosen, `drills` the names of all drills that are told of,
    `left_out` sentences about takes that can't be read.
    """

    def __init__(self, book: PracticeBook, choice: ExportChoice) -> None:
        self._book, self._choice = book, choice
        self.left_out: list[str] = []
        rows = self._rows("SELECT id, drill FROM takes WHERE player = ? AND day >= ?", since=True)
        self.takes = [number for number, drill in rows if choice.has(drill)]
        self.drills = {drill for _, drill in rows if choice.has(drill)}
        self.drills |= {goal["drill"] for goal in self.goals()}

    def player(self) -> Record:
        """What stands of the player in the header."""
        number = self._book.player_id()
        me = next(one for one in self._book.players() if one.id == number)
        rows = self._rows("SELECT name FROM instruments WHERE player = ? ORDER BY name")
        played = [name for (name,) in rows]
        return {"name": me.name, "uid": me.uid, "instruments": played, "chosen": me.instrument}

    def passages(self) -> Iterator[Record]:
        """Those of the takes and ceilings chosen, by version."""
        rows = self._rows(
            "SELECT drill, instrument, digest, passage_json, scale, tonguing, notes_a_click"
            " FROM passages WHERE id IN (SELECT passage FROM takes WHERE player = ?1 AND day >= ?2"
            " UNION SELECT passage FROM ceilings WHERE player = ?1 AND day >= ?2) ORDER BY id",
            since=True,
        )
        names = "drill instrument digest notes scale tonguing notes_a_click"
        for record in self._chosen("passage", names, rows):
            yield {**record, "notes": json.loads(record["notes"])}

    def sessions(self) -> Iterator[Record]:
        """Those in which the takes chosen were played."""
        chosen = set(self.takes)
        rows = self._rows(
            "SELECT takes.id, started_utc, command, ended_utc, ended FROM takes"
            " JOIN sessions ON sessions.id = session WHERE takes.player = ? AND takes.day >= ?"
            " ORDER BY session",
            since=True,
        )
        names = "started_utc command ended_utc ended"
        for row in dict.fromkeys(tuple(row[1:]) for row in rows if row[0] in chosen):
            yield _record("session", names, row)

    def assignments(self) -> Iterator[Record]:
        """All of them; those that set a chosen passage where passages are chosen."""
        rows = self._rows(
            "SELECT uid, title, teacher, words, due_day, received_utc, goals_json FROM assignments"
            " WHERE player = ? ORDER BY id"
        )
        names = "uid title teacher words due received_utc goals"
        for *told, goals_json in rows:
            goals = [
                {"drill": drill, "instrument": instrument, "goal_bpm": bpm, "due": date_of(due_day)}
                for drill, instrument, bpm, due_day in json.loads(goals_json)
            ]
            if any(self._choice.has(goal["drill"]) for goal in goals):
                yield _record("assignment", names, (*told, goals))

    def goals(self) -> Iterator[Record]:
        rows = self._rows(
            "SELECT drill, instrument, goal_bpm, goals.due_day, set_utc, uid FROM goals"
            " LEFT JOIN assignments ON assignments.id = assignment WHERE goals.player = ?"
            " ORDER BY drill, instrument"
        )
        return self._chosen("goal", "drill instrument goal_bpm due set_utc assignment", rows)

    def take_records(self) -> Iterator[Record]:
        """In the order in which they were kept."""
        for number in self.takes:
            rows = self._rows(
                "SELECT takes.uid, kept_utc, day, drill, title, instrument, rules, started_utc,"
                " take_z, report_z FROM takes JOIN evidence ON take = takes.id"
                " LEFT JOIN sessions ON sessions.id = session WHERE takes.player = ?"
                " AND takes.id = ?",
                number,
            )
            try:
                if not rows:
                    raise ValueError("what was heard is not there")
                ((*told, take_z, report_z),) = rows
                heard = json.loads(unpacked(take_z)), json.loads(unpacked(report_z))
            except (ValueError, RecursionError) as error:
                self.left_out.append(f"take {number} can't be read ({error})")
                continue
            yield _record("take", _TAKE, (*told, *heard))

    def ceilings(self) -> Iterator[Record]:
        rows = self._rows(
            "SELECT drill, instrument, digest, utc, day, estimate_bpm, low_bpm, high_bpm"
            " FROM ceilings JOIN passages ON passages.id = passage WHERE player = ? AND day >= ?"
            " ORDER BY ceilings.id",
            since=True,
        )
        names = "drill instrument digest utc day estimate_bpm low_bpm high_bpm"
        return self._chosen("ceiling", names, rows)

    def elsewhere(self) -> Iterator[Record]:
        """Minutes that the coach did not hear: of the player, not of a passage."""
        for row in self._rows(
            "SELECT uid, day, minutes, what FROM elsewhere WHERE player = ? AND day >= ?"
            " ORDER BY day, uid",
            since=True,
        ):
            yield _record("elsewhere", "uid day minutes what", row)

    def plans(self) -> Iterator[Record]:
        for *told, text in self._rows(
            "SELECT instrument, day, made_utc, concert_day, plan_json FROM plans"
            " WHERE player = ? AND day >= ? ORDER BY day, instrument",
            since=True,
        ):
            plan = json.loads(text)
            names = "instrument day made_utc concert names plan"
            yield _record("plan", names, (*told, plan["names"], plan["plan"]))

    def _chosen(self, kind: str, names: str, rows: Sequence[Any]) -> Iterator[Record]:
        """Records of rows that begin with the name of a drill."""
        return (_record(kind, names, row) for row in rows if self._choice.has(row[0]))

    def _rows(self, sql: str, *values: Any, since: bool = False) -> list[Any]:
        days = (self._choice.since_day,) if since else ()
        return self._book.rows(sql, (self._book.player_id(), *days, *values))


def _record(kind: str, names: str, row: Sequence[Any]) -> Record:
    told = dict(zip(names.split(), row, strict=True))
    return {"record": kind, **{k: date_of(v) if k in _DATES else v for k, v in told.items()}}


def kept_nowhere(book: PracticeBook, entries: Iterable[Entry]) -> tuple[Record, list[Record]]:
    """(the player, takes): the records of takes that could not be written into the book."""
    takes = [entry for entry in entries if isinstance(entry, TakeEntry)]
    return Leaving(book, ExportChoice(frozenset())).player(), [_unwritten(entry) for entry in takes]


def _unwritten(entry: TakeEntry) -> Record:
    drill = entry.drill
    row = (
        entry.uid,
        entry.moment.utc,
        entry.moment.day,
        drill.name,
        entry.take.plan.exercise.passage.title or drill.title,
        drill.instrument,
        drill.rules,
        None,
        json.loads(take_to_json(entry.take)),
        entry.report.to_dict(),
    )
    return _record("take", _TAKE, row)


def received_day(book: PracticeBook, assignment: str) -> int:
    """The player's day on which the assignment of that uid was received."""
    day = DAY.format(utc="received_utc")
    rows = book.rows(
        f"SELECT {day} FROM assignments WHERE player = ? AND uid = ?",
        (book.player_id(), assignment),
    )
    return int(rows[0][0])
