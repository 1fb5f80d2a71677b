"""The practice book: one sqlite file, one committed transaction a take.

What was kept survives a kill or a power cut (write-ahead log, full synchronisation), and two
coaches may have the book open at once.  A book that can't be written does not stop the practising:
takes wait in memory, and every later take, and the closing, tries again to write them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any
from uuid import uuid4

from coach.book.backup import back_up, backup_day, is_damage
from coach.book.diary import Diary
from coach.book.entries import CeilingEntry, Entry, Owner, TakeEntry, write_session
from coach.book.leaving import kept_nowhere
from coach.book.opening import BRIEF_WAIT_S, WAIT_S, Opened, cure_of, open_book
from coach.book.players import Player, add_player, chosen_instrument, player_named, players
from coach.book.reads import MisreadError, Reads
from coach.book.reserve import USED, hold, is_full, keep_log_short, let_go
from coach.book.rows import Moment, now
from coach.book.schema import transaction
from coach.core.exercise import Drill
from coach.core.passage import Passage
from coach.core.profile.tally import Tally
from coach.core.report import Report
from coach.core.take import Take
from coach.errors import CoachError, reason_of

# What comes of values that no coach wrote, where they are reckoned with.
_MISREAD = (MisreadError, TypeError, ValueError, ArithmeticError, LookupError, AttributeError)


class PracticeBook(Reads):
    """Open (and make, if need be) the book at `path`, for the player of that name or (None) the one
    chosen last; CoachError if a newer coach wrote it, or if there is no such player.

    All that is read and kept is that player's.  `remarks` are sentences for the player: that the
    book was damaged and what is in its place, that it can't be written, that there was no room for
    a backup; closing may add to them.  What could not be kept by then is in `kept_nowhere`, as
    records of the player and of the takes.
    """

    def __init__(self, path: Path, player: str | None = None) -> None:
        self.path = path
        self.remarks: tuple[str, ...] = ()
        self.kept_nowhere: tuple[dict[str, Any], list[dict[str, Any]]] | None = None
        self._waiting: list[Entry] = []
        self._session: tuple[str, str] | None = None
        self._session_id: int | None = None
        self._player_id: int | None = None
        self._doubtful = self._wrote = self._closed = False
        self._take_over(open_book(path))
        found = player_named(self._db, player)
        if found is None:
            self._db.close()
            hint = "coach player shows who there is"
            raise CoachError(f'there is no player "{player}" in the practice book', "", hint)
        self._player_id, self.player = found

    @property
    def hindrance(self) -> str:
        """Why the book can't be written, else ""."""
        return self._hindrance

    @property
    def diary(self) -> Diary:
        """Goals, plans, minutes elsewhere, assignments."""
        return Diary(self)

    def begin_session(self, command: str) -> None:
        """The takes from now on belong to a session of this command; it is written with the first
        of them, and its end when the book is closed."""
        self._session, self._session_id = (command, self.moment().utc), None

    def append(
        self, take: Take, report: Report, drill: Drill, tallies: Sequence[Tally] = ()
    ) -> str:
        """Keep one finished take for good, with what its notes add to the tallies of their days;
        returns its uid.

        CoachError if that can't be done now: the take waits in memory then, and the next take (or
        the closing) tries again.
        """
        uid = uuid4().hex
        self.keep(TakeEntry(take, report, drill, tuple(tallies), self.moment(), uid), "this take")
        return uid

    def add_ceiling(
        self, drill: Drill, passage: Passage, estimate_bpm: float, low_bpm: float, high_bpm: float
    ) -> None:
        """Keep what is thought of the passage's clean ceiling today; CoachError as for `append`."""
        bpms = (estimate_bpm, low_bpm, high_bpm)
        self.keep(CeilingEntry(drill, passage, bpms, self.moment()), "the ceiling")

    def player_id(self) -> int:
        """The player's number in the file that is open now."""
        if self._player_id is None:
            found = player_named(self._db, self.player) or add_player(self._db, self.player)
            self._player_id = found[0]
        return self._player_id

    def instrument(self) -> str | None:
        """What the player has chosen to play, where nothing else is said."""
        return chosen_instrument(self._db, self.player_id())

    def close(self, ended: str = "done") -> None:
        """Write what waits, note how the session ended, and make the day's backup."""
        if self._closed:
            return
        self._closed = True
        self._write_last(ended)
        if self._wrote and not self._doubtful:
            self._back_up()
        self._db.close()
        if self._doubtful:
            opened = open_book(self.path, doubtful=True)
            opened.db.close()
            self.remarks += opened.remarks

    def __enter__(self) -> PracticeBook:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        stopped = kind is not None and issubclass(kind, KeyboardInterrupt)
        misread = kind is not None and issubclass(kind, _MISREAD)
        told = len(self.remarks)
        self._doubtful = self._doubtful or misread
        self.close("done" if kind is None else "stopped" if stopped else "failed")
        if misread and len(self.remarks) > told:
            what = "there was something in the practice book that no coach wrote"
            raise CoachError(what, str(self.path), "it is left out now: try again") from error

    def _take_over(self, opened: Opened) -> None:
        self._db, self._hindrance, self._cure = opened.db, opened.hindrance, opened.cure
        self.remarks += tuple(r for r in opened.remarks if r not in self.remarks)
        # Another file may number its players differently.
        self._doubtful, self._session_id, self._player_id = False, None, None

    def players(self) -> list[Player]:
        """All players of the book, by name."""
        return players(self._db)

    def rewrite(self, change: Callable[[sqlite3.Connection], Any]) -> None:
        """Change the open file by a function, which begins a transaction if it needs one;
        CoachError if that can't be done."""
        if self._hindrance:
            what = f"the practice book can't be written ({self._hindrance})"
            raise CoachError(what, str(self.path), f"{self._cure}, then try again")
        try:
            change(self._db)
            self._wrote = True
        except (OSError, sqlite3.Error) as error:
            damage = isinstance(error, sqlite3.Error) and is_damage(error)
            self._doubtful = self._doubtful or damage
            what = f"the practice book could not be changed ({reason_of(error)})"
            raise CoachError(what, str(self.path), "try again") from None

    def moment(self) -> Moment:
        """Now."""
        return now(self._db)

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[Any]:
        try:
            return self._read(sql, values)
        except sqlite3.Error as error:
            self._doubtful = self._doubtful or is_damage(error)
            raise CoachError(
                f"the practice book can't be read ({reason_of(error)})",
                str(self.path),
                "try again: a damaged book is put aside now and its newest backup put in its place",
            ) from None

    def keep(self, entry: Entry, what: str, *, waits: bool = True) -> None:
        """Write it now; CoachError if that can't be done: it `waits` then for the next one, or is
        given up."""
        self._waiting.append(entry)
        try:
            self._write_waiting(BRIEF_WAIT_S if waits else WAIT_S)
        except sqlite3.IntegrityError as error:  # it would never go in, nor let later ones
            self._waiting.pop()
            hint = "play on: it is left out, and later takes are kept"
            raise self._not_kept(what, error, hint) from None
        except (OSError, sqlite3.Error) as error:
            if waits:
                many = len(self._waiting)
                waiting = "it waits" if many == 1 else f"{many} wait"
                hint = f"{waiting} in memory, and the next take tries again"
            else:
                self._waiting.pop()
                hint = f"{self._cure or cure_of(self.path, error)}, then try again"
            raise self._not_kept(what, error, hint) from None

    def _not_kept(self, what: str, error: Exception, hint: str) -> CoachError:
        return CoachError(f"{what} could not be kept ({reason_of(error)})", str(self.path), hint)

    def _write_waiting(self, wait_s: float) -> None:
        if self._hindrance or self._doubtful:
            self._reopen(brief=wait_s < WAIT_S)
        self._db.execute(f"PRAGMA busy_timeout = {round(1000 * wait_s)}")
        try:
            self._write_all()
        except sqlite3.Error as error:
            self._doubtful = is_damage(error)
            if not is_full(self.path):
                raise
            if let_go(self.path):
                self.remarks += (USED,)
            keep_log_short(self._db)
            self._write_all()
        self._waiting.clear()

    def _write_all(self) -> None:
        with transaction(self._db):
            session = self._session_id
            player = self.player_id()
            if session is None and self._session:
                session = write_session(self._db, player, *self._session)
            for entry in self._waiting:
                entry.write(self._db, Owner(player, session))
        self._session_id, self._wrote = session, True

    def _reopen(self, *, brief: bool) -> None:
        self._db.close()
        self._take_over(open_book(self.path, doubtful=self._doubtful, brief=brief))
        if self._hindrance:
            raise sqlite3.OperationalError(self._hindrance)

    def _write_last(self, ended: str) -> None:
        try:
            if self._waiting:
                self._write_waiting(WAIT_S)
            if self._session_id is not None:
                self._db.execute(
                    "UPDATE sessions SET ended_utc = ?, ended = ? WHERE id = ?",
                    (self.moment().utc, ended, self._session_id),
                )
        except (OSError, sqlite3.Error) as error:
            if self._waiting:
                many = len(self._waiting)
                self.remarks += (
                    f"What was played last ({many} {'entry' if many == 1 else 'entries'} of the"
                    f" practice book) could not be kept ({reason_of(error)}).",
                )
                with suppress(CoachError):
                    self.kept_nowhere = kept_nowhere(self, self._waiting)

    def _read(self, sql: str, values: Sequence[Any]) -> list[Any]:
        try:
            return self._db.execute(sql, values).fetchall()
        except sqlite3.OperationalError as error:
            if "decode" not in str(error):
                raise
            # Text that is none: with marks in place of what can't be read.
            self._db.text_factory = lambda text: text.decode("utf-8", "replace")
            return self._db.execute(sql, values).fetchall()

    def _back_up(self) -> None:
        try:
            today = self.today()
            if backup_day(self.path, today) < today:
                remark = back_up(self._db, self.path, today)
                self.remarks += (remark,) if remark else ()
                if not remark:
                    with suppress(OSError):  # the next backup tries again
                        hold(self.path)
        except sqlite3.Error:  # only damage is not a remark
            self._doubtful = True
