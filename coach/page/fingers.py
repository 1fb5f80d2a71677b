"""Finger moves as a table whose cells are the darker the later the valves come."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.profile.weakest import move_words
from coach.core.progress.fingers import Cell, Fingers, fingers_words
from coach.page.figure import figure
from coach.page.markup import Markup, tag

QUESTION = "Which finger moves lag?"
HOW = (
    "Milliseconds by which the valves come after the tongue (− before), then how many of the notes"
    " were clean, and of how many that is known. The darker, the later; dashed: too few notes to"
    " tell."
)


def fingers_figure(fingers: Fingers) -> Markup:
    answer = fingers_words(fingers)
    if not (fingers.cells or fingers.thumbs):
        return figure(QUESTION, answer)
    tables = [
        _matrix(fingers) if fingers.cells else None,
        _thumbs(fingers) if fingers.thumbs else None,
    ]
    pair = tag("div", *tables, class_="pair")
    return figure(QUESTION, answer, pair, tag("p", HOW, class_="soft"), kind="across")


def _matrix(fingers: Fingers) -> Markup:
    downs = (tag("th", _named(down), scope="col") for down in fingers.downs)
    over = tag(
        "tr",
        tag("td", class_="none"),
        tag("th", "going down", colspan=len(fingers.downs), scope="colgroup"),
    )
    head = tag("thead", over, tag("tr", tag("th", "going up", scope="col"), *downs))
    body = tag("tbody", *(_line(fingers, up) for up in fingers.ups))
    return _wide(tag("table", tag("caption", "Fingers", class_="soft"), head, body, class_="moves"))


def _line(fingers: Fingers, up: str) -> Markup:
    cells = (_cell(fingers.cells.get((up, down)), fingers.slowest) for down in fingers.downs)
    return tag("tr", tag("th", _named(up), scope="row"), *cells)


def _thumbs(fingers: Fingers) -> Markup:
    rows = (
        tag(
            "tr",
            tag("th", move_words(cell.move), scope="row"),
            tag("td", tag("b", _lag(cell)), class_=_kind(cell, fingers.slowest)),
            tag("td", _counted(cell), class_="more"),
        )
        for cell in fingers.thumbs
    )
    caption = tag("caption", "With the thumb (changes of side)", class_="soft")
    return _wide(tag("table", caption, tag("tbody", *rows), class_="moves thumbs"))


def _wide(table: Markup) -> Markup:
    return tag("div", table, class_="wide", tabindex=0)


def _cell(cell: Cell | None, slowest: Cell | None) -> Markup:
    if cell is None:
        return tag("td", class_="none")
    inside = tag("b", _lag(cell)), tag("span", _counted(cell))
    return tag("td", *inside, class_=_kind(cell, slowest))


def _lag(cell: Cell) -> str:
    lag = round(cell.lag_ms.value)
    return f"{'+' if lag > 0 else '−' if lag < 0 else ''}{abs(lag)} ms"


def _counted(cell: Cell) -> str:
    return f"{100 * cell.clean.value:.0f} %, {cell.clean.count:.0f}×"


def _kind(cell: Cell, slowest: Cell | None) -> str:
    shade = f"s{cell.shade}" if cell.sure else "open"
    return f"{shade} worst" if cell is slowest else shade


def _named(fingers: Sequence[str]) -> str:
    """ "1+2"; "none" for none."""
    return "+".join(fingers) or "none"
