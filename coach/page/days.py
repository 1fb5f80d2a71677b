"""Pictures of single days: minutes at the lips, evenness, where the click is."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.planning.facts import DayLoad
from coach.core.progress.dates import date_words
from coach.core.progress.days import (
    DayValue,
    Minutes,
    evenness_words,
    minutes_told,
    minutes_words,
    offset_words,
)
from coach.core.review import SHOWN_DAYS
from coach.page.figure import figure, table
from coach.page.markup import Markup, joined, tag
from coach.page.plot import BOTTOM, WIDTH, Field, circle, day_axes, day_field, line, picture

HEIGHT, TOP = 236.0, 36.0
SPAN = (TOP, HEIGHT - BOTTOM)
MIDDLE = 0.5
# Of the width of a day.
BAR = 0.7
LEAST_MINUTES = 10.0
HOW_MUCH = "How much was played, and when was there rest?"
HOW_EVEN = "Are the notes getting more even?"
WITH_CLICK = "Is it with the click?"


def minutes_figure(minutes: Minutes, key: str) -> Markup:
    first, last = minutes.days[0].day, minutes.days[-1].day
    high = max(LEAST_MINUTES, *(one.minutes for one in minutes.days))
    field = day_field(first, last, 0, high, SPAN)
    told = minutes_words(minutes)
    marks = joined(*(_day(one, field) for one in minutes.days))
    drawn = picture(key, HOW_MUCH, told, (WIDTH, HEIGHT), day_axes(field, "minutes"), marks)
    legend = [
        (tag("rect", x=10, y=2, width=14, height=16, class_="mainfill"), "minutes of playing"),
        (_rest(17, 10), "a day of rest"),
    ]
    rows = [(date_words(one.day), minutes_told(one.minutes)) for one in minutes.days if one.minutes]
    figures = table("In figures", ("day", "minutes"), rows, "Minutes at the lips, rest left out")
    return figure(HOW_MUCH, told, drawn, legend=legend, table=figures)


def _day(one: DayLoad, field: Field) -> Markup:
    x, y = field.at(one.day + MIDDLE, one.minutes)
    if not one.minutes:
        return _rest(x, field.y.start - 9)
    wide = BAR * (field.x(1) - field.x(0))
    high = max(2.0, field.y.start - y)
    return tag(
        "rect", x=x - wide / 2, y=field.y.start - high, width=wide, height=high, class_="mainfill"
    )


def _rest(x: float, y: float) -> Markup:
    return circle(x, y, 4, "resting")


def evenness_figure(days: Sequence[DayValue], today: int, key: str) -> Markup:
    """Deviation of the intervals, in hundredths of them."""
    answer = evenness_words(days, today)
    return _values(HOW_EVEN, answer, days, today, key, "% of the interval", floor=0.0)


def offset_figure(days: Sequence[DayValue], today: int, key: str) -> Markup:
    """Ms behind the click."""
    answer = offset_words(days, today)
    return _values(WITH_CLICK, answer, days, today, key, "ms behind the click (− ahead)")


def _values(
    question: str,
    answer: str,
    days: Sequence[DayValue],
    today: int,
    key: str,
    unit: str,
    floor: float | None = None,
) -> Markup:
    if not days:
        return figure(question, answer)
    low = min(0.0, *(one.low for one in days)) if floor is None else floor
    high = max(0.0, *(one.high for one in days))
    field = day_field(today - SHOWN_DAYS + 1, today, low, high, SPAN)
    zero = line(field.x.start, field.y(0), field.x.end, field.y(0), "axis")
    marks = joined(*(_value(one, field) for one in days))
    drawn = picture(key, question, answer, (WIDTH, HEIGHT), day_axes(field, unit), zero, marks)
    mark = joined(line(17, 1, 17, 19, "thin"), circle(17, 10, 5, "mainfill"))
    legend = [(mark, "mean of a day's takes, and how far they lie apart")]
    heads = ("day", "mean", "one standard deviation", "takes")
    rows = [
        (date_words(d.day), f"{d.mean:.1f}", f"{d.low:.1f} to {d.high:.1f}", f"{d.takes}")
        for d in days
    ]
    figures = table("In figures", heads, rows, unit)
    return figure(question, answer, drawn, legend=legend, table=figures)


def _value(one: DayValue, field: Field) -> Markup:
    x, y = field.at(one.day + MIDDLE, one.mean)
    return joined(
        line(x, field.y.held(one.low), x, field.y.held(one.high), "thin"),
        circle(x, y, 5, "mainfill"),
    )
