"""What is asked of the book: one player's takes, tallies and ceilings."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from coach.book.records import take_from_json, unpacked
from coach.book.rows import Ceiling, Kept, Moment, TakeRow
from coach.core.pace import EarlierTake
from coach.core.profile.tally import Tally
from coach.core.take import Take
from coach.errors import CoachError

_KEPT = (
    "SELECT id, uid, day, drill, instrument, rules, take_z FROM takes JOIN evidence ON take = id"
)


class MisreadError(CoachError):
    """Something stands in the book that no coach wrote."""


class Reads(ABC):
    """The questions, for a class with an open file under it; CoachError if it can't be read."""

    path: Path

    @abstractmethod
    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[Any]: ...

    @abstractmethod
    def player_id(self) -> int: ...

    @abstractmethod
    def moment(self) -> Moment: ...

    def today(self) -> int:
        """The player's calendar day, as `date.toordinal` counts it."""
        return self.moment().day

    def takes(self, drill: str | None = None) -> list[Take]:
        """The takes kept, oldest first, of one drill or of all."""
        rows = self.rows(
            "SELECT take_z FROM takes JOIN evidence ON take = id"
            " WHERE player = ? AND drill = coalesce(?, drill) ORDER BY id",
            (self.player_id(), drill),
        )
        return [self._take(data) for (data,) in rows]

    def latest(self, count: int, drill: str | None = None) -> list[Kept]:
        """The last `count` takes, oldest first, of one drill or of the drill played last."""
        player = self.player_id()
        if drill is None:
            last = self.rows(
                "SELECT drill FROM takes WHERE player = ? ORDER BY id DESC LIMIT 1", (player,)
            )
            drill = last[0][0] if last else ""
        rows = self.rows(
            f"{_KEPT} WHERE player = ? AND drill = ? ORDER BY id DESC LIMIT ?",
            (player, drill, count),
        )
        return [self._kept(row) for row in reversed(rows)]

    def kept(self, take: int | str) -> Kept | None:
        """The take of that number, or of that uid; None if it is not there."""
        column = "id" if isinstance(take, int) else "uid"
        rows = self.rows(f"{_KEPT} WHERE player = ? AND {column} = ?", (self.player_id(), take))
        return self._kept(rows[0]) if rows else None

    def take_rows(self, since_day: int | None = None) -> list[TakeRow]:
        """The figures of all takes, oldest first, or of those kept on `since_day` or later."""
        rows = self.rows(
            "SELECT takes.id, uid, day, takes.drill, title, takes.instrument, tempo_bpm,"
            " takes.notes, clean, counted, accuracy, passed, seconds, offset_ms, evenness_cv,"
            " scale, tonguing, coalesce(notes_a_click, 0)"
            " FROM takes LEFT JOIN passages ON passages.id = passage"
            " WHERE player = ? AND day >= ? ORDER BY takes.id",
            (self.player_id(), since_day or 0),
        )
        return [TakeRow(*(*row[:11], bool(row[11]), *row[12:])) for row in rows]

    def tallies(self, instrument: str, since_day: int = 0) -> list[Tally]:
        """What the notes played on the instrument did, added up by kind, name and day."""
        rows = self.rows(
            "SELECT kind, name, day, count, clean, n_values, total, squares FROM tallies"
            " WHERE player = ? AND instrument = ? AND day >= ?",
            (self.player_id(), instrument, since_day),
        )
        return [Tally(*row) for row in rows]

    def ceilings(self, drill: str) -> list[Ceiling]:
        """The ceilings of the drill's passages as they were estimated, oldest first."""
        rows = self.rows(
            "SELECT day, instrument, notes, digest, estimate_bpm, low_bpm, high_bpm"
            " FROM ceilings JOIN passages ON passage = passages.id WHERE player = ? AND drill = ?"
            " ORDER BY utc, ceilings.id",
            (self.player_id(), drill),
        )
        return [Ceiling(*row) for row in rows]

    def drills(self, instrument: str) -> list[str]:
        """The drills practised on the instrument, the last one first."""
        rows = self.rows(
            "SELECT drill FROM takes WHERE player = ? AND instrument = ? GROUP BY drill"
            " ORDER BY MAX(id) DESC",
            (self.player_id(), instrument),
        )
        return [name for (name,) in rows]

    def days(self, drill: str) -> int:
        """On how many days before today (by the local calendar) it was practised."""
        ((days,),) = self.rows(
            "SELECT COUNT(DISTINCT day) FROM takes WHERE player = ? AND drill = ? AND day < ?",
            (self.player_id(), drill, self.today()),
        )
        return int(days)

    def earlier(self, drills: Sequence[str], notes: int) -> list[EarlierTake]:
        """What earlier takes of `notes` notes tell about the ceiling, of these drills, the last
        200."""
        marks = ", ".join("?" * len(drills))
        rows = self.rows(
            "SELECT tempo_bpm, clean, counted, max(0.0, julianday(?) - julianday(kept_utc))"
            f" FROM takes WHERE player = ? AND drill IN ({marks}) AND notes = ?"
            " ORDER BY id DESC LIMIT 200",
            (self.moment().utc, self.player_id(), *drills, notes),
        )
        return [EarlierTake(*row) for row in rows]

    def _kept(self, row: Sequence[Any]) -> Kept:
        number, uid, day, drill, instrument, rules, data = row
        return Kept(number, uid, day, drill, instrument, rules, self._take(data))

    def _take(self, data: bytes) -> Take:
        try:
            return take_from_json(unpacked(data))
        except ValueError as error:
            what = f"a take in the practice book can't be read ({error})"
            raise MisreadError(what, str(self.path)) from None
