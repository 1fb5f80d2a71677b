"""From the takes in the book to what the plan of the day is made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from coach.core.planning.facts import Check, DayLoad, Known, Worked
from coach.core.review import Played, ceiling_of

# The first take of a day at no less than this share of the goal tells whether it still goes.
CHECK_SHARE = 0.97
# Further back the ceilings of single days tell little of today's progress.
HISTORY_DAYS = 14
# Seconds of a take that nobody has timed.
USUAL_TAKE_S = 20.0


class Timed(Protocol):
    """The playing time of one take."""

    @property
    def day(self) -> int: ...
    @property
    def seconds(self) -> float: ...


def worked_of(
    rows: Sequence[Played], known: Mapping[str, tuple[str, float]], today: int
) -> tuple[Worked, ...]:
    """The passages in these takes (oldest first) that have a goal: `known` titles and goals."""
    drills: dict[str, list[Played]] = {}
    for row in rows:
        if row.counted and row.drill in known and row.day <= today:
            drills.setdefault(row.drill, []).append(row)
    return tuple(_worked(name, mine, *known[name], today) for name, mine in drills.items())


def loads_of(rows: Iterable[Timed]) -> tuple[DayLoad, ...]:
    """Minutes at the lips, day by day."""
    seconds: dict[int, float] = {}
    for row in rows:
        seconds[row.day] = seconds.get(row.day, 0.0) + row.seconds
    return tuple(DayLoad(day, min(total / 60, 1440.0)) for day, total in sorted(seconds.items()))


def _worked(name: str, rows: Sequence[Played], title: str, goal_bpm: float, today: int) -> Worked:
    ceiling, low, high = ceiling_of(rows, today)
    days = sorted({row.day for row in rows})
    seconds = [row.seconds for row in rows if row.seconds > 0]
    history = [
        Known(day, ceiling_of([row for row in rows if row.day <= day], day)[0])
        for day in days
        if today - HISTORY_DAYS <= day < today
    ]
    return Worked(
        name,
        title,
        goal_bpm,
        sum(seconds) / len(seconds) if seconds else USUAL_TAKE_S,
        ceiling,
        low,
        high,
        tuple(history),
        len(days),
        sum(seconds) / 60,
        days[-1],
        tuple(_checks(rows, goal_bpm)),
    )


def _checks(rows: Sequence[Played], goal_bpm: float) -> Iterable[Check]:
    """The first takes of days, where these were at the goal."""
    first: dict[int, Played] = {}
    for row in rows:
        first.setdefault(row.day, row)
    for day, row in first.items():
        if row.tempo_bpm >= CHECK_SHARE * goal_bpm:
            yield Check(day, row.passed)
