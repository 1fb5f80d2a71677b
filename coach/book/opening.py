"""Opening the book: looked over, brought to the present version, put right if it is damaged, and
only read where it can't be written."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from coach.book.backup import (
    Damaged,
    back_up,
    backup_day,
    check,
    copy_book,
    is_damage,
    is_emptied,
    make_private,
    private_folder,
    read_only,
)
from coach.book.backup import put_right as put_damaged_right
from coach.book.mending import mend
from coach.book.reserve import USED, is_full, keep_log_short, let_go
from coach.book.rows import now
from coach.book.schema import VERSION, NewerBookError, migrate, transaction, version_of
from coach.errors import CoachError, reason_of

# Another coach's transaction takes milliseconds, bringing over a large book some seconds: so long
# may opening and closing the book take, and so long keeping a take, while the player waits.
WAIT_S, BRIEF_WAIT_S = 5.0, 1.0
# Read through at every opening up to this size, 0.2 s on a slow disk (100 MB a second); a larger
# book (437 MB after 100,000 takes) is read through when it is backed up, at the end of a day's
# first session that kept something, and here (0.8 s) if that did not happen for so many days.
SMALL_BYTES = 16_000_000
LONGEST_UNCHECKED_DAYS = 7
# What comes of a folder, on a network for one, where the log's index can't be mapped into memory.
_NO_LOG = (
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PROTOCOL,
)


@dataclass(frozen=True, slots=True)
class Opened:
    """The open book; why it can't be written and what to do about it (else ""); and what the player
    should be told."""

    db: sqlite3.Connection
    hindrance: str = ""
    cure: str = ""
    remarks: tuple[str, ...] = ()


def open_book(path: Path, *, doubtful: bool = False, brief: bool = False) -> Opened:
    """Open the book, make it if there is none; `doubtful`: read all of it through; `brief`: don't
    wait long for somebody else who writes.

    CoachError only for a book of a newer coach.  One that can't be written is opened for reading,
    and if that can't be done an empty one in memory stands in for it.
    """
    wait_s = BRIEF_WAIT_S if brief else WAIT_S
    try:
        try:
            return _for_writing(path, doubtful, wait_s)
        except (OSError, sqlite3.Error):
            if not (is_full(path) and let_go(path)):
                raise
            opened = _for_writing(path, doubtful, wait_s)
            keep_log_short(opened.db)
            return replace(opened, remarks=(USED, *opened.remarks))
    except NewerBookError:
        raise CoachError(
            "the practice book can't be opened (it was written by a newer coach)",
            str(path),
            "install the newer coach, or set COACH_HOME to another folder",
        ) from None
    except (OSError, sqlite3.Error) as error:
        reason, cure = reason_of(error), cure_of(path, error)
        remark = (
            f"The practice book can't be written ({reason}): takes are held in memory, and every"
            f" take tries again; {cure}."
        )
        return Opened(_for_reading(path), reason, cure, (remark,))


def cure_of(path: Path, error: Exception) -> str:
    """What the player can do where the book can't be written."""
    if getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY:
        return "close what else has it open"
    if is_full(path):
        return "make room on the disk"
    return f"see {path.parent}, or set COACH_HOME to a folder you can write to"


def _for_writing(path: Path, doubtful: bool, wait_s: float) -> Opened:
    private_folder(path.parent)
    make_private(path)
    try:
        if is_emptied(path):
            raise Damaged("it is empty")
        return _looked_over(path, doubtful, wait_s)
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
    remark = put_damaged_right(path, _today())
    make_private(path)
    opened = _looked_over(path, False, wait_s)
    return Opened(opened.db, remarks=(remark, *opened.remarks))


def _looked_over(path: Path, doubtful: bool, wait_s: float) -> Opened:
    db = _prepared(path, wait_s)
    try:
        large = path.stat().st_size > SMALL_BYTES
        today, remarks = now(db).day, []
        if doubtful or not large:
            check(db)
            remarks.append(mend(db, path, today, deep=doubtful))
        elif today - backup_day(path, today) > LONGEST_UNCHECKED_DAYS:
            remarks += [mend(db, path, today), back_up(db, path, today)]
        return Opened(db, remarks=tuple(filter(None, remarks)))
    except BaseException:
        db.close()
        raise


def _prepared(path: Path, wait_s: float) -> sqlite3.Connection:
    """The book open for writing: with a log, or with a journal where there can be none."""
    try:
        return _connected(path, _use_log, wait_s)
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF not in _NO_LOG:
            raise
        try:
            return _connected(path, _use_journal, wait_s)
        except sqlite3.OperationalError:
            raise error from None


def _connected(
    path: Path, choose: Callable[[sqlite3.Connection], None], wait_s: float
) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
    try:
        choose(db)
        _prepare(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    have = version_of(db)
    db.execute("PRAGMA synchronous = FULL")
    # On macOS alone a drive may else say that it has written what it has not.
    db.execute("PRAGMA fullfsync = ON")
    db.execute("PRAGMA foreign_keys = ON")
    migrate(db, lambda old: _copy_beside(path, old))
    if 0 < have < VERSION:
        # Bringing over leaves most of the file empty, and every backup would carry that along.
        with suppress(sqlite3.OperationalError):
            db.execute("VACUUM")
    # A book that can't be written says so now, not after the first take.
    with transaction(db):
        pass


def _copy_beside(path: Path, version: int) -> None:
    """A copy by a connection of its own: sqlite copies nothing from one that is writing."""
    with closing(sqlite3.connect(path, isolation_level=None)) as reading:
        copy_book(reading, path.with_name(f"{path.stem}-version-{version}{path.suffix}"))


def _use_log(db: sqlite3.Connection) -> None:
    """Write-ahead log.  sqlite does not wait for another coach that is just making the book: the
    empty transaction does."""
    _refuse_newer(db)
    for _ in range(100):
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                raise
            with transaction(db):
                pass
    db.execute("PRAGMA journal_mode = WAL")


def _use_journal(db: sqlite3.Connection) -> None:
    """Who is alone with a book needs no index in common memory, and can end the log that the book
    may have been left with."""
    db.execute("PRAGMA locking_mode = EXCLUSIVE")
    _refuse_newer(db)
    db.execute("PRAGMA journal_mode = DELETE")
    db.execute("PRAGMA locking_mode = NORMAL")


def _refuse_newer(db: sqlite3.Connection) -> None:
    if version_of(db) > VERSION:
        raise NewerBookError


def _for_reading(path: Path) -> sqlite3.Connection:
    """The book read-only (`immutable`: in a folder where not even the log can be made)."""
    for more in ("", "&immutable=1"):
        with suppress(OSError, sqlite3.Error):
            uri = read_only(path.resolve()) + more
            db = sqlite3.connect(uri, uri=True, isolation_level=None)
            if _readable(db):
                return db
    db = sqlite3.connect(":memory:", isolation_level=None)
    migrate(db, lambda old: None)
    return db


def _readable(db: sqlite3.Connection) -> bool:
    with suppress(sqlite3.Error):
        if version_of(db) == VERSION:
            return True
    db.close()
    return False


def _today() -> int:
    with closing(sqlite3.connect(":memory:")) as clock:
        return now(clock).day
