"""Files and folders: what goes wrong is one sentence, on every system the same."""

from __future__ import annotations

import contextlib
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from coach.errors import FileError

# Names of devices: Windows has no files that are called so, whatever their ending.
_DEVICE = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9¹²³]")


def check_free(path: Path, *, replace: bool, what: str = "file") -> None:
    """FileError if something is there already, unless it may be written over."""
    if path.exists() and not replace:
        hint = "choose another name, or --replace"
        raise FileError(f"there is a {what} already", str(path), hint)


def write_whole(path: Path, text: str) -> None:
    """The file is there in full, or as it was before, the same bytes on every system; FileError if
    the system can't write it."""
    part = path.with_name(f"{path.name}.part")
    with writing(path):
        try:
            part.write_text(text, encoding="utf-8", newline="\n")
            part.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise


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
        reason = (error.strerror or str(error)).lower()
        raise FileError(f"it can't be written ({reason})", str(path)) from None
