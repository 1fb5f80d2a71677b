"""Screens that are lines of text."""

from __future__ import annotations

from types import TracebackType
from typing import Self, TextIO

from coach.screen.letters import STAND_INS
from coach.screen.words import printable


class LineWriter:
    """Writes lines to a stream, each flushed; for letters that it lacks others stand in."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stream.flush()

    def _say(self, words: str) -> None:
        encoding = getattr(self._stream, "encoding", None) or "utf-8"
        self._stream.write(printable(words).encode(encoding, STAND_INS).decode(encoding) + "\n")
        self._stream.flush()
