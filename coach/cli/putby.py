"""Takes that the practice book could not keep: written where there is room, for `coach import`."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

from coach.errors import FileError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook


def put_by(book: PracticeBook) -> str:
    """Write what the closed book could not keep to the first folder that takes it; a sentence that
    says where it is, "" if there is nothing, or no such folder."""
    if book.kept_nowhere is None:
        return ""
    player, takes = book.kept_nowhere
    if not takes:
        return ""
    name = f"coach-takes-{takes[0]['uid'][:8]}.jsonl"
    for folder in _folders():
        with contextlib.suppress(FileError):
            _write(folder / name, player, takes)
            return f"The takes are in a file now: coach import {quote(str(folder / name))}"
    return ""


def _folders() -> Iterator[Path]:
    with contextlib.suppress(RuntimeError):  # nobody knows where it is
        yield Path.home()
    with contextlib.suppress(OSError):
        yield Path(tempfile.gettempdir())


def _write(path: Path, player: dict[str, Any], takes: list[dict[str, Any]]) -> None:
    from coach.cli.sharing import header
    from coach.files.share.lines import write_records

    first = header(takes[0]["kept_utc"], "export", player, None)
    write_records(path, [first, *takes])
