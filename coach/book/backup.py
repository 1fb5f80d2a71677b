"""Copies of the book: one a day of practice, the last five, and what is done with a damaged one."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from datetime import date
from pathlib import Path, PurePath

from coach.errors import reason_of

KEPT = 5
FOLDER = "backups"
# Left free for everything else on the disk, whatever a backup would take.
SPARE_BYTES = 100_000_000
OWNER_ONLY = 0o600
BESIDE = ("-wal", "-shm")


class Damaged(sqlite3.DatabaseError):
    """The check found something."""


def is_damage(error: sqlite3.Error) -> bool:
    """Whether the file itself is bad (and not only locked, unreadable or too big for the disk)."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return isinstance(error, Damaged) or code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def check(db: sqlite3.Connection) -> None:
    """Damaged if the file is not as sqlite wrote it; reads all of it."""
    found = db.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise Damaged(str(found))


def read_only(path: PurePath) -> str:
    """The URI by which sqlite opens a file (its path absolute) for reading only."""
    uri = path.as_uri()
    # The server of a Windows network folder (\\server\share) is part of the path to sqlite.
    local = uri if uri.startswith("file:///") else uri.replace("file://", "file:////", 1)
    return f"{local}?mode=ro"


def private_folder(folder: Path) -> None:
    """The folder is there, and what had to be made on the way to it is its owner's alone."""
    for place in reversed([folder, *folder.parents]):
        if not place.exists():
            place.mkdir(mode=0o700, exist_ok=True)


def make_private(path: Path) -> None:
    """The file is there, empty if it is new, and its owner's alone where files have modes."""
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, OWNER_ONLY))
    if os.name == "posix" and path.stat().st_mode & 0o077:
        path.chmod(OWNER_ONLY)


def copy_book(db: sqlite3.Connection, target: Path) -> None:
    """A sound copy of the open book in `target`, or no file and an error (`Damaged`, for one)."""
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        part.unlink(missing_ok=True)
        make_private(part)
        with closing(sqlite3.connect(part, isolation_level=None)) as copy:
            db.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            check(copy)
        os.replace(part, target)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def backups(path: Path, today: int | None = None) -> list[Path]:
    """The backups of the book at `path`, the newest first.

    Those of days after `today` were made when the clock was wrong, or is wrong now: what is from
    today is newer than they are, and nobody knows how old they are; they come last.
    """
    found = (path.parent / FOLDER).glob(f"{path.stem}-????-??-??.sqlite")
    days = sorted((place for place in found if _is_day(place.stem[-10:])), reverse=True)
    return days if today is None else sorted(days, key=lambda place: _day(place) > today)


def backup_day(path: Path, today: int) -> int:
    """The day of the newest backup up to `today`, as `date.toordinal` counts it; 0 if there is
    none."""
    return max((day for day in map(_day, backups(path)) if day <= today), default=0)


def is_emptied(path: Path) -> bool:
    """Whether there is nothing in the file any more of which there are backups."""
    return path.stat().st_size == 0 and bool(backups(path))


def back_up(db: sqlite3.Connection, path: Path, day: int) -> str:
    """Today's backup, of a book that is sound (`Damaged` if it is not); a sentence if none could
    be made, else ""."""
    folder = path.parent / FOLDER
    try:
        private_folder(folder)
        free = shutil.disk_usage(folder).free
        if free < path.stat().st_size + SPARE_BYTES:
            return (
                f"No backup of the practice book was made: only {free / 1e6:.0f} MB are left on"
                " the disk."
            )
        copy_book(db, folder / f"{path.stem}-{date.fromordinal(day)}.sqlite")
        _thin_out(path, day)
    except sqlite3.Error as error:
        if is_damage(error):
            raise
        return f"No backup of the practice book was made ({error})."
    except OSError as error:
        return f"No backup of the practice book was made ({reason_of(error)})."
    return ""


def put_right(path: Path, day: int) -> str:
    """Put a damaged book aside and its newest sound backup in its place; a sentence that says so.

    The book's place is never empty on the way: a coach that is killed here finds the damaged book
    or the sound one.
    """
    sound = path.with_name(f"{path.name}.restored")
    day_of_sound = _restored(path, sound, day)
    aside = free_name(path, day)
    _second_name(path, aside)
    try:
        _move_log(path, aside)
    except OSError:  # Windows moves nothing that another coach has open
        for left in (aside, sound):
            left.unlink(missing_ok=True)
        raise
    said = f"The practice book was damaged and is now {aside.name}"
    if day_of_sound is None:
        path.unlink()
        return f"{said}; there is no sound backup, so a new book is begun."
    os.replace(sound, path)
    since = date.fromordinal(day_of_sound)
    return f"{said}; the backup of {since} is in its place, without what was played since."


def _move_log(path: Path, aside: Path) -> None:
    for ending in BESIDE:
        with suppress(FileNotFoundError):
            os.replace(f"{path}{ending}", f"{aside}{ending}")


def _restored(path: Path, sound: Path, today: int) -> int | None:
    """Copy the newest sound backup to `sound`; its day, None if there is none."""
    for backup in backups(path, today):
        try:
            with closing(sqlite3.connect(read_only(backup.resolve()), uri=True)) as db:
                copy_book(db, sound)
            return _day(backup)
        except sqlite3.Error as error:
            if not is_damage(error):
                raise
    return None


def _second_name(path: Path, other: Path) -> None:
    try:
        os.link(path, other)
    except OSError:  # a file system without links
        make_private(other)
        shutil.copyfile(path, other)


def free_name(path: Path, day: int) -> Path:
    """A name that is free, for the book as it was before it was put right."""
    stem = f"{path.stem}-damaged-{date.fromordinal(day)}"
    names = (f"{stem}{f'-{k}' if k > 1 else ''}{path.suffix}" for k in range(1, 1000))
    return next(place for place in map(path.with_name, names) if not place.exists())


def half_made(path: Path) -> list[Path]:
    """Copies of the book at `path` that a coach was killed over."""
    folders = (path.parent, path.parent / FOLDER)
    return [p for folder in folders for p in folder.glob(f"{path.stem}[-.]*.part*") if p.is_file()]


def _thin_out(path: Path, today: int) -> None:
    for old in (*backups(path, today)[KEPT:], *half_made(path)):
        old.unlink(missing_ok=True)


def _day(backup: Path) -> int:
    return date.fromisoformat(backup.stem[-10:]).toordinal()


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
