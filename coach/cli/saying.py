"""What the commands print: names from outside can do no more to a terminal than be read."""

from __future__ import annotations

import sys
from typing import TextIO

from coach.errors import printable
from coach.screen.letters import STAND_INS


def print(*words: object, end: str = "\n", file: TextIO | None = None, flush: bool = False) -> None:
    """As Python's own, which it stands in for in all commands; but what a terminal would obey is
    left out, and for what its encoding lacks something stands in.  A line may begin with a return.
    """
    out = sys.stdout if file is None else file
    lines = " ".join(map(str, words)).split("\n")
    text = "\n".join(_shown(line) for line in lines) + end
    encoding = getattr(out, "encoding", None) or "utf-8"
    out.write(text.encode(encoding, STAND_INS).decode(encoding))
    if flush:
        out.flush()


def _shown(line: str) -> str:
    back = "\r" if line.startswith("\r") else ""
    return back + printable(line.removeprefix("\r"))
