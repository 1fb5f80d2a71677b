"""Sentences in rows where a terminal shows them; a pipe gets each as one line."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from typing import TextIO

# A line longer than this is read badly.
WIDEST, NARROWEST = 100, 20
# A blank at which no row ends.
TIED = "\N{NO-BREAK SPACE}"
# What is to be typed: between backticks, or behind a colon or semicolon.
_TYPED = re.compile(r"`[^`]{1,60}`|(?:(?<=: )|(?<=; )|^)coach [^;?`]{1,60}?(?=\.?$|\. |[;?,]| \()")


def columns(out: TextIO) -> int | None:
    """How wide a row may be; None where no terminal shows it."""
    try:
        shown = out.isatty()
    except ValueError:  # closed
        return None
    return max(NARROWEST, min(shutil.get_terminal_size().columns, WIDEST)) if shown else None


def in_rows(text: str, width: int | None, start: str = "", indent: str = "") -> list[str]:
    """The text behind `start`, its later rows set in by `indent`; what is to be typed stays whole.
    With no width (None), one row."""
    if width is None:
        return [start + text]
    kept = _TYPED.sub(lambda typed: typed[0].replace(" ", TIED), text)
    rows = textwrap.wrap(
        kept,
        width,
        initial_indent=start,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [row.replace(TIED, " ") for row in rows or [start]]


def for_errors(sentence: str) -> str:
    """What is told of the coach itself, as stderr shows it."""
    return "\n".join(in_rows(f"coach: {sentence}", columns(sys.stderr), "", "  "))
