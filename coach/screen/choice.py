"""Which screen a session gets."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from types import TracebackType
from typing import TYPE_CHECKING, Protocol, Self, TextIO

from coach.core.rules import Rules
from coach.screen.plain import PlainScreen

if TYPE_CHECKING:
    from rich.console import Console

    from coach.core.view import View


class SessionScreen(Protocol):
    """What a session draws on, inside a `with` block."""

    def draw(self, view: View) -> None: ...
    def __enter__(self) -> Self: ...
    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...


def make_screen(
    *,
    plain: bool = False,
    stream: TextIO | None = None,
    console: Console | None = None,
    rules: Rules | None = None,
    hint: str = "",
) -> SessionScreen:
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
    if not shows_pictures(console):
        return PlainScreen(out if stream else console.file)  # type: ignore[arg-type]
    return LiveScreen(console, rules=rules, hint=hint)


def show_summary(
    view: View,
    *,
    plain: bool = False,
    stream: TextIO | None = None,
    console: Console | None = None,
    reason: str = "",
) -> None:
    """Print the end of a session, as a picture or as lines of text by the same choice."""
    out = stream or sys.stdout
    if not plain:
        from rich.console import Console

        from coach.screen.pages import summary

        console = console or Console(file=out)
        if shows_pictures(console):
            console.print(summary(view, reason=reason, width=console.width))
            return
    with PlainScreen(out) as screen:
        screen.summarize(view, reason)


def show_course(
    title: str,
    parts: Sequence[tuple[str, View]],
    *,
    stream: TextIO | None = None,
    reason: str = "",
) -> None:
    """Print the end of a course, one part a line: (its title, the last view of its session)."""
    with PlainScreen(stream or sys.stdout) as screen:
        screen.summarize_course(title, parts, reason)


def shows_pictures(console: Console) -> bool:
    """Whether there is a terminal that can show the pictures."""
    return console.is_terminal and not console.is_dumb_terminal and _has_shapes(console)


def _has_shapes(console: Console) -> bool:
    """Whether the terminal's encoding has the half blocks and marks."""
    try:
        "█▀▄●◀▶┼".encode(console.encoding)
    except UnicodeEncodeError:
        return False
    return True
