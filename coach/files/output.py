"""Files and folders: what goes wrong is one sentence, on every system the same."""

from __future__ import annotations

import codecs
import contextlib
import errno
import os
import re
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

from coach.errors import FileError, reason_of

OWNER_ONLY = 0o600
# Names of devices: Windows has no files that are called so, whatever their ending.
_DEVICE = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9¹²³]")


def check_free(path: Path, *, replace: bool, what: str = "file") -> None:
    """FileError if something is there already, unless it may be written over."""
    if path.exists() and not replace:
        hint = "choose another name, or --replace"
        raise FileError(f"there is a {what} already", str(path), hint)


def check_result(path: Path) -> None:
    """FileError if something is there that is no JSON: results are written over older ones, but a
    recording or a drill that was named in their place is a slip."""
    try:
        if not path.is_file():
            return
        with path.open("rb") as file:
            start = file.read(1000).removeprefix(codecs.BOM_UTF8).lstrip()
    except (OSError, ValueError):
        return  # told when it is written
    if start and start[:1] not in (b"{", b"["):
        hint = "choose another name for the result"
        raise FileError("there is a file already, and it is no JSON", str(path), hint)


def write_whole(path: Path, data: str | bytes, *, private: bool = False) -> None:
    """The file is there in full, or as it was before, the same bytes on every system; FileError if
    the system can't write it.  `private`: it is its owner's alone, where files have modes."""
    with whole_file(path, private=private) as part:
        part.write_bytes(data.encode() if isinstance(data, str) else data)


@contextlib.contextmanager
def whole_file(path: Path, *, private: bool = False) -> Iterator[Path]:
    """Another name to write to: what stands there at the end is `path` then; nothing after an
    error.  FileError if the system can't write it; `private` as for `write_whole`."""
    with writing(path):
        if path.is_symlink() or (path.exists() and not path.is_file()):
            yield path  # /dev/stdout, for one
            return
        part = path.with_name(f"{path.name}.part")
        try:
            _begin(part, path, private)
            yield part
            part.replace(path)
        except BaseException:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise


def _begin(part: Path, path: Path, private: bool) -> None:
    """An empty file, no more open to others than what it takes the place of."""
    part.unlink(missing_ok=True)
    mode = stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o666
    made = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY if private else mode)
    os.close(made)
    if path.exists() and not private:
        part.chmod(mode)


def open_private(path: str, flags: int) -> int:
    """For `open`: a new file is its owner's alone, one that is there stays as it is."""
    return os.open(path, flags, OWNER_ONLY)


def private_folder(folder: Path) -> None:
    """The folder is there, and what had to be made on the way to it is its owner's alone; OSError
    if it can't be."""
    for place in reversed([folder, *folder.parents]):
        if not place.exists():
            place.mkdir(mode=0o700, exist_ok=True)


def is_device(name: str) -> bool:
    """Whether Windows takes a file of that name, with or without an ending, for a device."""
    return _DEVICE.fullmatch(name.partition(".")[0].strip().lower()) is not None


def refuse_folder(path: Path, hint: str) -> None:
    """FileError if that is a folder; to who opens one, Windows says only that it may not."""
    if path.is_dir():
        raise FileError("this is a folder", str(path), hint) from None


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """What is done inside writes `path`; FileError if the system can't."""
    # Windows would hand it to a device, or hide it behind another file ("name:more").
    if sys.platform == "win32" and (is_device(path.name) or ":" in path.name):
        raise FileError("Windows has no files of this name", str(path), "choose another name")
    try:
        yield
    except OSError as error:
        reason = reason_of(error)
        hint = "name a file in a folder that you may write to"
        if error.errno == errno.ENOSPC:
            hint = "make room on the disk"
        raise FileError(f"it can't be written ({reason})", str(path), hint) from None
