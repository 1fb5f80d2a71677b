"""Writing files: what goes wrong is one sentence."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from coach.errors import FileError


def check_free(path: Path, *, replace: bool, what: str = "file") -> None:
    """FileError if something is there already, unless it may be written over."""
    if path.exists() and not replace:
        hint = "choose another name, or --replace"
        raise FileError(f"there is a {what} already", str(path), hint)


def write_whole(path: Path, text: str) -> None:
    """The file is there in full, or as it was before; FileError if the system can't write it."""
    part = path.with_name(f"{path.name}.part")
    with writing(path):
        try:
            part.write_text(text, encoding="utf-8")
            part.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """What is done inside writes `path`; FileError if the system can't."""
    try:
        yield
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise FileError(f"it can't be written ({reason})", str(path)) from None
