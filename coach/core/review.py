"""The week in review: how much was played, where each passage stands, what got better, and how fast
scales and ways of tonguing go clean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from coach.core.pace.belief import Belief
from coach.core.pace.prior import EarlierTake, beliefs_from
from coach.core.planning.facts import DayLoad
from coach.core.planning.goals import Goal
from coach.core.profile.ceilings import Ceilings, ceilings_of
from coach.core.profile.kinds import OfKinds

WEEK_DAYS = 7
# A passage goes on being shown for so long after it was last played.
SHOWN_DAYS = 28
# Of these takes, the last ones, the ceiling is known as well as of all.
MOST_TAKES = 60
THRESHOLD = 0.9


class PlayedTake(OfKinds, Protocol):
    """What the book tells of one take; `day` as `date.toordinal`."""

    @property
    def passed(self) -> bool: ...
    @property
    def seconds(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Week:
    """Seven days: on how many there was practice, minutes of playing in takes, takes, and the share
    of clean notes (None without notes); `elsewhere_minutes` were played away from the coach."""

    days: int
    minutes: float
    takes: int
    clean: float | None
    elsewhere_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class PassageReview:
    """One passage: its clean ceiling in clicks a minute with its 90 % interval, what it was a week
    ago (None if it was not played before), its goal (None if nobody knows one) and the day that is
    due on (None: no day)."""

    drill: str
    title: str
    takes: int
    last_day: int
    ceiling_bpm: float
    low_bpm: float
    high_bpm: float
    before_bpm: float | None
    goal_bpm: float | None
    due_day: int | None = None

    @property
    def gained_percent(self) -> float | None:
        """How much the ceiling rose in a week."""
        if self.before_bpm is None:
            return None
        return 100 * (self.ceiling_bpm / self.before_bpm - 1)


@dataclass(frozen=True, slots=True)
class Review:
    """This week beside the one before, the passages of late, the last one played first, and the
    ceilings of scales and of ways of tonguing."""

    today: int
    week: Week
    before: Week
    passages: tuple[PassageReview, ...]
    ceilings: Ceilings

    def to_dict(self) -> dict[str, Any]:
        """As plain data; days as `date.toordinal`."""

        def week(one: Week) -> dict[str, Any]:
            clean = None if one.clean is None else round(one.clean, 4)
            minutes = round(one.minutes, 1)
            elsewhere = round(one.elsewhere_minutes, 1)
            return {
                "days": one.days,
                "minutes": minutes,
                "takes": one.takes,
                "clean": clean,
                "elsewhere_minutes": elsewhere,
            }

        names = ("ceiling_bpm", "low_bpm", "high_bpm", "before_bpm", "goal_bpm")
        return {
            "today": self.today,
            "week": week(self.week),
            "week_before": week(self.before),
            "passages": [
                {
                    "drill": one.drill,
                    "title": one.title,
                    "takes": one.takes,
                    "last_day": one.last_day,
                    "due_day": one.due_day,
                    **{name: _rounded(getattr(one, name)) for name in names},
                }
                for one in self.passages
            ],
            "ceilings": self.ceilings.to_dict(),
        }


def review_of(
    rows: Sequence[PlayedTake],
    today: int,
    known: Mapping[str, tuple[str, float]],
    goals: Sequence[Goal] = (),
    elsewhere: Sequence[DayLoad] = (),
) -> Review:
    """The review on day `today`, of takes in order of time.

    `known` are the titles and goals of the drills whose files are there; the player's own `goals`
    go before them; `elsewhere` is what was played away from the coach.
    """
    drills: dict[str, list[PlayedTake]] = {}
    for row in rows:
        if row.counted and row.day <= today:
            drills.setdefault(row.drill, []).append(row)
    late = {k: v for k, v in drills.items() if today - v[-1].day < SHOWN_DAYS}
    order = sorted(late, key=lambda drill: (-late[drill][-1].day, drill))
    own = {goal.drill: goal for goal in goals}
    return Review(
        today,
        _week(rows, elsewhere, today),
        _week(rows, elsewhere, today - WEEK_DAYS),
        tuple(
            _standing(drill, late[drill], today, known.get(drill), own.get(drill))
            for drill in order
        ),
        ceilings_of(rows, today),
    )


def _week(rows: Sequence[PlayedTake], elsewhere: Sequence[DayLoad], last_day: int) -> Week:
    inside = [row for row in rows if 0 <= last_day - row.day < WEEK_DAYS]
    counted = sum(row.counted for row in inside)
    clean = sum(row.clean for row in inside) / counted if counted else None
    minutes = sum(row.seconds for row in inside) / 60
    others = sum(one.minutes for one in elsewhere if 0 <= last_day - one.day < WEEK_DAYS)
    return Week(len({row.day for row in inside}), minutes, len(inside), clean, others)


def _standing(
    drill: str,
    rows: Sequence[PlayedTake],
    today: int,
    known: tuple[str, float] | None,
    own: Goal | None,
) -> PassageReview:
    week_ago = today - WEEK_DAYS
    *earlier, now = beliefs_on(rows, [week_ago, today] if rows[0].day <= week_ago else [today])
    before = earlier[0].estimate_bpm if earlier else None
    title, filed_bpm = known or (rows[-1].title, None)
    goal_bpm, due_day = (own.goal_bpm, own.due_day) if own else (filed_bpm, None)
    last_day = rows[-1].day
    return PassageReview(
        drill,
        title,
        len(rows),
        last_day,
        now.estimate_bpm,
        *now.interval_bpm(),
        before,
        goal_bpm,
        due_day,
    )


def beliefs_on(rows: Sequence[PlayedTake], days: Sequence[int]) -> list[Belief]:
    """What was believed of the clean ceiling on these days, in order, from takes in order: in one
    go through them, from `MOST_TAKES` before the first day's end."""
    before = sum(row.day <= days[0] for row in rows)
    used = [row for row in rows[max(0, before - MOST_TAKES) :] if row.day <= days[-1]]
    tempi = [row.tempo_bpm for row in used]
    takes = [EarlierTake(r.tempo_bpm, r.clean, r.counted, days[-1] - r.day) for r in used]
    ago = [days[-1] - day for day in days]
    return beliefs_from(min(tempi), max(tempi), THRESHOLD, takes, ago)


def _rounded(bpm: float | None) -> float | None:
    return None if bpm is None else round(bpm, 1)
