"""How much may be played today, after what was played in the last weeks.

Sudden or high load is what orchestra musicians name as a main cause of injury (Chan and Ackermann
2014, Front. Psychol. 5:706); for the figures there is common practice and no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from coach.core.planning.facts import DayLoad
from coach.core.planning.settings import Load

WEEK = 7


@dataclass(frozen=True, slots=True)
class Allowed:
    """Playing minutes still allowed today; `reason` says what bounds them: "most", "growth",
    "week", "heavy" (yesterday was) or "seventh" (a light day is due).

    `usual` is a usual day's playing, None while unknown; `done` was played today already.
    """

    minutes: float
    reason: str
    usual: float | None
    done: float


def allowed_today(loads: Sequence[DayLoad], today: int, settings: Load) -> Allowed:
    by_day = _by_day(loads)
    done = by_day.get(today, 0.0)
    recent = [by_day.get(today - k, 0.0) for k in range(1, settings.usual_days + 1)]
    played = [minutes for minutes in recent if minutes > 0]
    if len(played) < settings.fewest_days:
        return Allowed(max(0.0, settings.most_minutes - done), "most", None, done)
    usual = fmean(played)
    limits = {"growth": usual * (1 + settings.growth), **_light(recent, usual, settings)}
    known = min(settings.usual_days, today - min(by_day))
    if known >= 2 * WEEK:
        usual_week = WEEK * fmean(recent[WEEK - 1 : known])
        limits["week"] = usual_week * (1 + settings.growth) - sum(recent[: WEEK - 1])
    reason = min(limits, key=lambda name: limits[name])
    most = max(limits[reason], settings.least_minutes)
    return Allowed(max(0.0, most - done), reason, usual, done)


def _by_day(loads: Sequence[DayLoad]) -> dict[int, float]:
    by_day: dict[int, float] = {}
    for load in loads:
        by_day[load.day] = by_day.get(load.day, 0.0) + load.minutes
    return by_day


def _light(recent: Sequence[float], usual: float, settings: Load) -> dict[str, float]:
    """The limits of a light day, where today should be one; `recent` begins with yesterday."""
    light = settings.light_share * usual
    if recent[0] > settings.heavy_ratio * usual:
        return {"heavy": light}
    if all(minutes > light for minutes in recent[: WEEK - 1]):
        return {"seventh": light}
    return {}
