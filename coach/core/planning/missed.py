"""What of the last plan was not done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.planning.facts import DayLoad, PlannedDay, Worked


@dataclass(frozen=True, slots=True)
class Missed:
    """Of the plan made `days_ago` the passages `titles` were not practised on that day or since;
    `all` of them, and `played`: something else was."""

    days_ago: int
    titles: tuple[str, ...]
    all: bool
    played: bool


def missed_of(
    passages: Sequence[Worked],
    planned: Sequence[PlannedDay],
    loads: Sequence[DayLoad],
    today: int,
) -> Missed | None:
    """Of the last plan before today; None if all of it was done, or there is none.

    Passages that are worked at no more are left out.
    """
    last = max((one for one in planned if one.day < today), key=lambda p: p.day, default=None)
    if last is None:
        return None
    there = [passage for passage in passages if passage.name in last.names]
    left = [p for p in there if p.last_day is None or p.last_day < last.day]
    if not left:
        return None
    titles = tuple(sorted(passage.title for passage in left))
    played = any(load.day == last.day and load.minutes > 0 for load in loads)
    return Missed(today - last.day, titles, len(left) == len(there), played)
