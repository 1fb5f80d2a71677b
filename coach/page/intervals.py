"""Estimates with their intervals, one a line, on one axis."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from coach.core.progress.sorts import SortRow
from coach.page.markup import Markup, joined
from coach.page.plot import HIGH, LETTER, WIDTH, circle, label, line
from coach.page.scale import Scale, tick_words, ticks

ROW = 40.0
HEAD, FOOT = 30.0, 34.0
SIDE = 14.0


@dataclass(frozen=True, slots=True)
class Panel:
    """What stands over it, its rows, how a value is written ("8.1"), and what lies on the axis in
    any case."""

    title: str
    rows: Sequence[SortRow]
    words: Callable[[float], str]
    inside: tuple[float, ...] = ()


def panels_height(panels: Sequence[Panel]) -> float:
    return sum(HEAD + FOOT + ROW * len(panel.rows) for panel in panels)


def panels_drawn(panels: Sequence[Panel]) -> Markup:
    """One beneath the other, names at the left, values at the right."""
    parts, top = [], 0.0
    names = max(len(row.name) for panel in panels for row in panel.rows)
    values = max(len(panel.words(row.estimate.value)) for panel in panels for row in panel.rows)
    left, right = names * LETTER + 16, WIDTH - SIDE - values * LETTER - 12
    for panel in panels:
        parts.append(_panel(panel, top, left, right))
        top += HEAD + FOOT + ROW * len(panel.rows)
    return joined(*parts)


def _panel(panel: Panel, top: float, left: float, right: float) -> Markup:
    ends = [end for row in panel.rows for end in (row.estimate.low, row.estimate.high)]
    marks = ticks(min(*ends, *panel.inside), max(*ends, *panel.inside), 4)
    x = Scale(marks[0], marks[-1], left, right)
    first, bottom = top + HEAD, top + HEAD + ROW * len(panel.rows)
    grid = (
        joined(
            line(x(value), first, x(value), bottom, "axis" if value == 0 else "grid"),
            label(x(value), bottom + HIGH + 4, tick_words(value), anchor="middle", kind="soft"),
        )
        for value in marks
    )
    rows = (_row(panel, row, first + ROW * (k + 0.5), x) for k, row in enumerate(panel.rows))
    return joined(label(0, top + HIGH + 2, panel.title, kind="soft"), *grid, *rows)


def _row(panel: Panel, row: SortRow, y: float, x: Scale) -> Markup:
    one = row.estimate
    whisker = "main" if row.tells else "faint"
    return joined(
        label(0, y + 6, row.name),
        line(x(one.low), y, x(one.high), y, whisker),
        circle(x(one.value), y, 7, "mainfill" if row.tells else "unsure"),
        label(WIDTH - SIDE, y + 6, panel.words(one.value), anchor="end", kind="value"),
    )
