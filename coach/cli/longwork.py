"""Work that takes a while says how far it is."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from coach.cli.saying import print

PLAIN_STEP = 0.25


@contextmanager
def told(
    words: str, *, plain: bool, stream: TextIO | None = None
) -> Iterator[Callable[[float], None]]:
    """What is called with the share that is done: one line written over and over on a terminal,
    a line each quarter of the way elsewhere."""
    out = stream or sys.stderr
    lines = plain or not out.isatty()
    before = [-PLAIN_STEP if lines else -0.01]

    def tell(share: float) -> None:
        if share < before[0] + (PLAIN_STEP if lines else 0.01):
            return
        before[0] = share
        end = "\n" if lines else ""
        print(f"{'' if lines else chr(13)}{words} {share:4.0%}", end=end, file=out, flush=True)

    try:
        yield tell
    finally:
        if not lines:
            print(file=out, flush=True)
