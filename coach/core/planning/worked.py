"""From the takes in the book to what the plan of the day is made from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Protocol

from coach.core.course import BUILD_SUFFIX
from coach.core.findings.prescribe import SUFFIX as NEXT_SUFFIX
from coach.core.planning.facts import Check, DayLoad, KnownCeiling, Worked
from coach.core.planning.goals import Goal
from coach.core.review import PlayedTake, beliefs_on

# A first take of the day at no less than this share of the goal tells whether it still goes.
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
    rows: Sequence[PlayedTake],
    known: Mapping[str, tuple[str, float]],
    today: int,
    goals: Sequence[Goal] = (),
) -> tuple[Worked, ...]:
    """The passages in these takes (oldest first) that have a goal, and those of `goals`.

    `known` are the titles and goals in drill files; the player's own `goals` (of the instrument of
    the takes) go before them, and need no file.  Takes of builds and of what was made of a passage
    may be among the rows: they tell whether a first take of a day was cold.
    """
    own = {goal.drill: goal for goal in goals}
    passages: dict[str, list[PlayedTake]] = {name: [] for name in own}
    played: dict[str, list[PlayedTake]] = {}
    for row in rows:
        if row.day <= today:
            played.setdefault(passage_of(row.drill), []).append(row)
            if row.counted and (row.drill in known or row.drill in own):
                passages.setdefault(row.drill, []).append(row)
    found = []
    for name, mine in passages.items():
        title, goal_bpm = known.get(name) or (mine[-1].title if mine else name, 0.0)
        goal = own.get(name) or Goal(name, "", goal_bpm)
        found.append(_worked(goal, title, mine, played.get(passage_of(name), ()), today))
    return tuple(found)


def passage_of(drill: str) -> str:
    """The name of the passage that takes of `drill` are of, whatever was made of it."""
    return drill.removesuffix(BUILD_SUFFIX).removesuffix(NEXT_SUFFIX)


def loads_of(rows: Iterable[Timed], elsewhere: Iterable[DayLoad] = ()) -> tuple[DayLoad, ...]:
    """Minutes at the lips, day by day: in these takes and away from the coach."""
    minutes: dict[int, float] = {}
    for day, more in [(r.day, r.seconds / 60) for r in rows] + [
        (e.day, e.minutes) for e in elsewhere
    ]:
        minutes[day] = minutes.get(day, 0.0) + more
    return tuple(DayLoad(day, min(total, 1440.0)) for day, total in sorted(minutes.items()))


def _worked(
    goal: Goal, title: str, rows: Sequence[PlayedTake], played: Sequence[PlayedTake], today: int
) -> Worked:
    """Of its own takes, and of all `played` with those of what was made of it."""
    last_day = max((row.day for row in played), default=None)
    if not rows:
        take_s, due_day = USUAL_TAKE_S, goal.due_day
        return Worked(goal.drill, title, goal.goal_bpm, take_s, last_day=last_day, due_day=due_day)
    days = sorted({row.day for row in rows})
    late = [day for day in days if today - HISTORY_DAYS <= day < today]
    *earlier, now = beliefs_on(rows, [*late, today])
    seconds = [row.seconds for row in rows if row.seconds > 0]
    return Worked(
        goal.drill,
        title,
        goal.goal_bpm,
        sum(seconds) / len(seconds) if seconds else USUAL_TAKE_S,
        now.estimate_bpm,
        *now.interval_bpm(),
        tuple(KnownCeiling(day, one.estimate_bpm) for day, one in zip(late, earlier, strict=True)),
        len(days),
        sum(seconds) / 60,
        last_day,
        tuple(_checks(goal, played)),
        goal.due_day,
    )


def _checks(goal: Goal, played: Sequence[PlayedTake]) -> Iterator[Check]:
    """The first takes of days that were cold and at the goal: nothing of the passage, no build and
    no exercise made of it, was played before on that day, heard or not."""
    first: dict[int, PlayedTake] = {}
    for row in played:
        first.setdefault(row.day, row)
    for day, row in first.items():
        at_goal = row.tempo_bpm >= CHECK_SHARE * goal.goal_bpm
        if row.drill == goal.drill and row.counted and at_goal:
            yield Check(day, row.passed)
