"""The event log: one JSON object a line, written as it happens."""

from __future__ import annotations

import codecs
import contextlib
import json
import math
import os
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

from coach.errors import FileError, reason_of
from coach.files.output import open_private

# So every event begins, in the first line of a log as in all others.
_START = b'{"event"'


def _ignore(_: str) -> None:
    pass


class EventLog:
    """Writes events to `path`, flushing after each.

    An older log is written over, any other file is not: it would be a slip.  FileError for one, and
    if the file cannot be opened.  If writing fails later (a full disk), `warn` gets one
    sentence, and the session goes on without the log.
    """

    def __init__(self, path: str | Path, warn: Callable[[str], None] = _ignore) -> None:
        self.path, self._warn = Path(path), warn
        self._open = True
        _check_older(self.path)
        try:
            self._file = open(  # noqa: SIM115 (closed in close)
                self.path, "w", encoding="ascii", newline="\n", opener=open_private
            )
        except (OSError, ValueError) as error:
            what = f"events can't be written there ({reason_of(error)})"
            raise FileError(
                what, str(path), "name a file in a folder that you may write to"
            ) from None

    def write(self, event: dict[str, Any]) -> None:
        """Write one event; numbers that JSON has no word for (NaN, infinity) become null."""
        if not self._open:
            return
        try:
            self._file.write(json.dumps(_plain(event), allow_nan=False) + "\n")
            self._file.flush()
        except OSError as error:
            self._warn(f"{self.path}: the event log stops here ({reason_of(error)}).")
            self.close()

    def close(self) -> None:
        """Close the file; what was written before stays."""
        self._open = False
        # Closing flushes once more, and on a full disk fails once more: that was told already.
        with contextlib.suppress(OSError):
            self._file.close()

    def __enter__(self) -> EventLog:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _check_older(path: Path) -> None:
    """FileError if something else is there; nothing, pipes and devices are well."""
    try:
        if not path.is_file():
            return
        with path.open("rb") as file:
            start = file.read(64).removeprefix(codecs.BOM_UTF8)
    except (OSError, ValueError):
        return  # told by who opens it for writing
    if start and not start.startswith(_START):
        what = "there is a file already, and it is no event log"
        raise FileError(what, str(path), "choose another name")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def read_events(path: str | os.PathLike[str]) -> list[dict[str, Any]]:
    """The events of a log.  A last line that was cut off while being written is left out.

    FileError, naming the line, for anything else that is not an event.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise FileError("this is not an event log", str(path), "name a text file") from None
    except (OSError, ValueError) as error:
        what = f"this event log can't be read ({reason_of(error)})"
        raise FileError(what, str(path), "check the name") from None
    whole = text.split("\n")[:-1]
    return [_event(line, f"{path}, line {place}") for place, line in enumerate(whole, 1)]


def _event(line: str, where: str) -> dict[str, Any]:
    try:
        event = json.loads(line)
    except (ValueError, RecursionError):
        event = None
    if not isinstance(event, dict):
        raise FileError("this is not an event", where, "each line holds one JSON object")
    return event
