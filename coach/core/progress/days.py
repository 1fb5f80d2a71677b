"""How much, and how even?  Figures of single days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from statistics import fmean, pstdev
from typing import Protocol

from coach.core.planning.facts import DayLoad
from coach.core.profile.estimate import Z
from coach.core.progress.dates import WEEK_DAYS
from coach.core.review import SHOWN_DAYS

# Players feel a click as together within so many ms (the judge forgives twice as much).
NEAR_MS = 10.0
FEW_MINUTES = 9.5
NOT_OF_LATE = "Nothing was played in the last week."


class Figures(Protocol):
    """What the book tells of one take."""

    @property
    def day(self) -> int: ...
    @property
    def offset_ms(self) -> float | None: ...
    @property
    def evenness_cv(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class DayValue:
    """The mean of a figure over the takes of a day, and one standard deviation about it."""

    day: int
    takes: int
    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class _Span:
    """The mean over several days, and its standard error."""

    mean: float
    error: float


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes at the lips, in takes and as told of playing elsewhere, on each of the days shown, in
    order; 0 is a day of rest."""

    days: tuple[DayLoad, ...]

    @property
    def rest_days(self) -> int:
        return sum(one.minutes == 0 for one in self.days)

    @property
    def total(self) -> float:
        return sum(one.minutes for one in self.days)


def minutes_of(loads: Iterable[DayLoad], today: int, days: int = SHOWN_DAYS) -> Minutes:
    """Of the last `days` days, today with them."""
    known = {load.day: load.minutes for load in loads}
    span = range(today - days + 1, today + 1)
    return Minutes(tuple(DayLoad(day, known.get(day, 0.0)) for day in span))


def minutes_words(minutes: Minutes) -> str:
    """ "238 minutes on 17 days: 14 on a day of practice, 22 at most, and 11 days of rest."."""
    played = [one.minutes for one in minutes.days if one.minutes]
    if not played:
        return "Nothing was played in these weeks."
    head = f"{minutes_told(minutes.total)} minutes on {len(played)} days"
    mean = f"{minutes_told(fmean(played))} on a day of practice"
    mean += f", {minutes_told(max(played))} at most"
    rest = f"{minutes.rest_days} days of rest"
    return f"{head}: {mean}, and {rest}."


def minutes_told(minutes: float) -> str:
    """ "14", "1.3": few of them to a tenth."""
    return f"{minutes:.0f}" if minutes >= FEW_MINUTES else f"{minutes:.1f}"


def evenness_days(rows: Sequence[Figures], today: int) -> tuple[DayValue, ...]:
    """Deviation of the intervals within a take, in hundredths of the interval."""
    cv = [(row.day, row.evenness_cv) for row in rows]
    return _by_day([(day, 100 * value) for day, value in cv if value is not None], today)


def offset_days(rows: Sequence[Figures], today: int) -> tuple[DayValue, ...]:
    """Milliseconds behind the click (ahead: negative)."""
    return _by_day([(r.day, r.offset_ms) for r in rows if r.offset_ms is not None], today)


def _by_day(values: Sequence[tuple[int, float]], today: int) -> tuple[DayValue, ...]:
    days: dict[int, list[float]] = {}
    for day, value in values:
        if today - SHOWN_DAYS < day <= today:
            days.setdefault(day, []).append(value)
    return tuple(_day(day, days[day]) for day in sorted(days))


def _day(day: int, values: Sequence[float]) -> DayValue:
    mean, sd = fmean(values), pstdev(values)
    return DayValue(day, len(values), mean, mean - sd, mean + sd)


def evenness_words(days: Sequence[DayValue], today: int) -> str:
    """What it is of late against the weeks before."""
    late, before = _weeks(days, today)
    if late is None:
        return NOT_OF_LATE
    if before is None:
        return f"Intervals off by {late.mean:.1f} % in this first week: too early to tell."
    change = late.mean - before.mean
    if abs(change) <= Z * hypot(late.error, before.error):
        head = "About as before"
    else:
        head = "Yes" if change < 0 else "No"
    told = f"intervals off by {late.mean:.1f} % in the last week, {before.mean:.1f} % before it"
    return f"{head}: {told}."


def offset_words(days: Sequence[DayValue], today: int) -> str:
    """Whether the player is with the click."""
    late, _ = _weeks(days, today)
    if late is None:
        return NOT_OF_LATE
    side = "behind" if late.mean >= 0 else "ahead of"
    head = "Yes" if abs(late.mean) < NEAR_MS else "Not quite"
    return f"{head}: {abs(late.mean):.0f} ms {side} it in the last week."


def _weeks(days: Sequence[DayValue], today: int) -> tuple[_Span | None, _Span | None]:
    """The last week, and the days before it."""
    first = today - WEEK_DAYS + 1
    return (
        _span([one for one in days if one.day >= first]),
        _span([one for one in days if one.day < first]),
    )


def _span(days: Sequence[DayValue]) -> _Span | None:
    """All takes of these days together; takes count as independent of each other."""
    takes = sum(one.takes for one in days)
    if not takes:
        return None
    mean = sum(one.takes * one.mean for one in days) / takes
    apart = sum(one.takes * ((one.high - one.mean) ** 2 + (one.mean - mean) ** 2) for one in days)
    return _Span(mean, sqrt(apart) / takes)
