"""The picture of a passage over time: its ceiling with the 90 % band, every take, the goal."""

from __future__ import annotations

from coach.core.progress.climb import Climb, climb_words
from coach.core.progress.dates import date_words, short_date
from coach.page.figure import Legend, figure, table
from coach.page.markup import Markup, joined, tag
from coach.page.plot import (
    BOTTOM,
    LETTER,
    UNIT,
    WIDTH,
    Field,
    circle,
    day_axes,
    day_field,
    label,
    line,
    path,
    picture,
)

HEIGHT, TOP = 310.0, 54.0
QUESTION = "Is it getting faster?"
# A day that the goal is due on is on the axis if it comes so soon.
SOON_DAYS = 28
MIDDLE = 0.5


def climb_figure(climb: Climb, key: str) -> Markup:
    field = _field(climb)
    drawn = picture(
        key,
        f"{QUESTION} {climb.title}",
        f"{climb_words(climb)} Clicks a minute over days; {len(climb.takes)} takes.",
        (WIDTH, HEIGHT),
        day_axes(field, "clicks a minute"),
        _band(climb, field),
        _takes(climb, field),
        _ceiling(climb, field),
        _goal(climb, field),
        _due(climb, field),
    )
    return figure(QUESTION, climb_words(climb), drawn, legend=_legend(climb), table=_table(climb))


def _field(climb: Climb) -> Field:
    tempi = [take.tempo_bpm for take in climb.takes] or [climb.ceilings[-1].bpm]
    ends = [climb.goal_bpm] if climb.goal_bpm else []
    low = min(*tempi, *(one.low_bpm for one in climb.ceilings), *ends, tempi[0])
    high = max(*tempi, *(one.high_bpm for one in climb.ceilings), *ends, tempi[0])
    last_day = climb.today
    if climb.due_day is not None and climb.due_day <= climb.today + SOON_DAYS:
        last_day = climb.due_day
    return day_field(climb.first_day, last_day, low, high, (TOP, HEIGHT - BOTTOM))


def _takes(climb: Climb, field: Field) -> Markup:
    return joined(
        *(
            circle(*field.at(take.at_day, take.tempo_bpm), 3.4, _dot(take.passed))
            for take in climb.takes
        )
    )


def _dot(passed: bool) -> str:
    return "quiet" if passed else "failed"


def _band(climb: Climb, field: Field) -> Markup:
    """Where the ceiling lies; of a single day a line."""
    days = climb.ceilings
    lows = [field.at(one.day + MIDDLE, one.low_bpm) for one in days]
    highs = [field.at(one.day + MIDDLE, one.high_bpm) for one in days]
    if len(days) == 1:
        return line(*lows[0], *highs[0], "main")
    return path([*highs, *reversed(lows)], "band", closed=True)


def _ceiling(climb: Climb, field: Field) -> Markup:
    middle = [field.at(one.day + MIDDLE, one.bpm) for one in climb.ceilings]
    dots = (circle(*at, 5, "mainfill") for at in middle)
    return joined(path(middle, "main"), *dots, _last(climb, field))


def _last(climb: Climb, field: Field) -> Markup:
    """The ceiling of now, in figures, over its point, or beside a single one."""
    x, y = field.at(climb.ceilings[-1].day + MIDDLE, climb.ceilings[-1].bpm)
    words = f"{climb.ceilings[-1].bpm:.0f}"
    if len(climb.ceilings) == 1:
        return label(x - 12, y + 7, words, anchor="end", kind="now")
    return label(min(x, WIDTH - 2 * LETTER), y - 12, words, anchor="middle", kind="now")


def _goal(climb: Climb, field: Field) -> Markup | None:
    if climb.goal_bpm is None:
        return None
    y = field.y(climb.goal_bpm)
    words = label(field.x.start + 6, y - 7, f"goal {climb.goal_bpm:.0f}", kind="goaltext")
    return joined(line(field.x.start, y, field.x.end, y, "goal"), words)


def _due(climb: Climb, field: Field) -> Markup | None:
    if climb.due_day is None:
        return None
    if climb.due_day > field.x.high:
        words = f"due {short_date(climb.due_day)} →"
        return label(field.x.end, UNIT, words, anchor="end", kind="goaltext")
    x = field.x(climb.due_day + MIDDLE)
    words = label(x - 4, UNIT, f"due {short_date(climb.due_day)}", anchor="end", kind="goaltext")
    return joined(line(x, 4, x, field.y.start, "goal"), words)


def _legend(climb: Climb) -> Legend:
    ceiling = joined(
        tag("rect", x=0, y=2, width=34, height=16, class_="band"),
        line(1, 10, 33, 10, "main"),
        circle(17, 10, 5, "mainfill"),
    )
    shown = [
        (ceiling, "the ceiling, and where it lies with a chance of 90 %"),
        (circle(17, 10, 5, "quiet"), "a take that passed"),
        (circle(17, 10, 5, "failed"), "one that did not"),
    ]
    if climb.goal_bpm is not None:
        shown.append((line(1, 10, 33, 10, "goal"), "the goal"))
    return shown


def _table(climb: Climb) -> Markup | None:
    rows = [
        (date_words(one.day), f"{one.bpm:.0f}", f"{one.low_bpm:.0f} to {one.high_bpm:.0f}")
        for one in climb.ceilings
    ]
    return table("In figures", ("day", "ceiling", "90 % sure"), rows, "Clicks a minute")
