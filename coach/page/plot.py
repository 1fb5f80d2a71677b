"""The parts that all plots have: the picture with its words for who can't see it, axes, labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.progress.dates import mondays, short_date
from coach.page.markup import Markup, Part, joined, tag
from coach.page.scale import Scale, tick_words, ticks

WIDTH = 520.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 14.0, 16.0, 34.0
# The base line of words over a plot.
UNIT = 20.0
# A letter of the plots' font is about so wide and high.
LETTER, HIGH = 10.6, 17.0


def picture(
    key: str, title: str, told: str, size: tuple[float, float], *parts: Part, kind: str = "plot"
) -> Markup:
    """An SVG of that width and height; `key` is its own on the page, `told` says what is seen."""
    width, height = size
    return tag(
        "svg",
        tag("title", title, id=f"{key}-t"),
        tag("desc", told, id=f"{key}-d"),
        *parts,
        class_=kind,
        viewBox=f"0 0 {width:g} {height:g}",
        role="img",
        aria_labelledby=f"{key}-t {key}-d",
        xmlns="http://www.w3.org/2000/svg",
    )


def label(
    x: float, y: float, words: str, *, anchor: str = "start", kind: str | None = None
) -> Markup:
    """Words whose base line is at `y`."""
    return tag("text", words, x=x, y=y, text_anchor=anchor, class_=kind)


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> Markup:
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=kind)


def path(points: Sequence[tuple[float, float]], kind: str, *, closed: bool = False) -> Markup:
    """A line through the points, or the area that they enclose."""
    places = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return tag("polygon" if closed else "polyline", points=places, class_=kind)


def circle(x: float, y: float, radius: float, kind: str) -> Markup:
    return tag("circle", cx=x, cy=y, r=radius, class_=kind)


@dataclass(frozen=True, slots=True)
class Field:
    """The place inside the axes of a plot over days."""

    x: Scale
    y: Scale
    marks: tuple[float, ...]

    def at(self, day: float, value: float) -> tuple[float, float]:
        return self.x(day), self.y.held(value)


def day_field(
    first_day: int, last_day: int, low: float, high: float, span: tuple[float, float]
) -> Field:
    """Whole days across, values from `low` to `high` (made round) between the heights of `span`."""
    marks = ticks(low, high)
    x = Scale(first_day, last_day + 1, LEFT, WIDTH - RIGHT)
    return Field(x, Scale(marks[0], marks[-1], span[1], span[0]), tuple(marks))


def day_axes(field: Field, unit: str = "") -> Markup:
    """Round values at the left, Mondays below; `unit` stands over the values."""
    bottom = field.y.start
    left, right = field.x.start, field.x.end
    rows = [
        joined(
            line(left, field.y(value), right, field.y(value), "grid"),
            label(left - 8, field.y(value) + 6, tick_words(value), anchor="end", kind="soft"),
        )
        for value in field.marks
    ]
    days = [
        joined(
            line(field.x(day), bottom, field.x(day), bottom + 6, "axis"),
            label(field.x(day), bottom + 25, short_date(day), anchor="middle", kind="soft"),
        )
        for day in _fitting(field)
    ]
    over = label(0, UNIT, unit, kind="soft") if unit else None
    return joined(*rows, *days, line(left, bottom, right, bottom, "axis"), over)


def _fitting(field: Field) -> list[int]:
    """Mondays, as many as have room for their words and stand far enough from the edges."""
    first, last = int(field.x.low), int(field.x.high) - 1
    apart = 7 * LETTER
    found: list[int] = []
    for day in mondays(first, last):
        x = field.x(day)
        clear = not found or x - field.x(found[-1]) >= apart
        if clear and field.x.start - 20 <= x <= field.x.end - apart / 2:
            found.append(day)
    return found
