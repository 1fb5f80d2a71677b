"""Which screen a session gets."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

from coach.core.rules import Rules
from coach.screen.plain import PlainScreen

if TYPE_CHECKING:
    from rich.console import Console

    from coach.screen.live import LiveScreen


def make_screen(
    *,
    plain: bool = False,
    stream: TextIO | None = None,
    console: Console | None = None,
    rules: Rules | None = None,
    hint: str = "",
) -> LiveScreen | PlainScreen:
    """Pictures for a terminal that can show them, lines of text for everything else.

    `stream` (standard output) is what to write to, `console` an existing rich console on it;
    `rules` set the tolerance drawn on the rulers; `hint` is the line about the keys.
    """
    out = stream or sys.stdout
    if plain:
        return PlainScreen(out)
    from rich.console import Console

    from coach.screen.live import LiveScreen

    console = console or Console(file=out)
    if not console.is_terminal or console.is_dumb_terminal or not _has_shapes(console):
        return PlainScreen(out if stream else console.file)  # type: ignore[arg-type]
    return LiveScreen(console, rules=rules, hint=hint)


def _has_shapes(console: Console) -> bool:
    """Whether the terminal's encoding has the half blocks and marks."""
    try:
        "█▀▄●◀▶┼".encode(console.encoding)
    except UnicodeEncodeError:
        return False
    return True
