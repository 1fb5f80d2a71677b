"""What each passage asks for today."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from coach.core.planning.concert import Ahead, beyond_reach
from coach.core.planning.facts import Worked
from coach.core.planning.gaps import gap_days, overdue
from coach.core.planning.progress import Speed
from coach.core.planning.settings import PlanningSettings

Kind = Literal["learn", "build", "check", "keep"]
# The last visit of a passage never played is taken to lie so many days back; one of today counts
# for this part of a day, so that it can come again if there is nothing else.
_NEW_DAYS, _TODAY_DAYS = 2.0, 0.25
# A goal let go of weighs this much of the least of the others: it gets the time that is left over.
_LET_GO = 0.5


@dataclass(frozen=True, slots=True)
class Standing:
    """A passage today: what to do, and how much it asks for it.

    `sessions` it still needs; `weight` ranks passages of one kind and shares out minutes among
    those that are built; a turn lasts `least_minutes` at the least, so that a take and its rest
    fit in.
    """

    passage: Worked
    kind: Kind
    weight: float
    sessions: float
    least_minutes: int
    let_go: bool = False

    @property
    def name(self) -> str:
        return self.passage.name

    @property
    def work(self) -> bool:
        return self.kind in ("learn", "build")


def standings(
    passages: Sequence[Worked],
    today: int,
    minutes: float,
    ahead: Ahead,
    speed: Speed,
    settings: PlanningSettings,
) -> list[Standing]:
    """All that may come today, of each kind the most wanted first."""
    light = [passage for passage in passages if ahead.of(passage).light]
    kept = [_kept(one, today, ahead, settings) for one in light if one.ceiling_bpm is not None]
    passages = [passage for passage in passages if not ahead.of(passage).light]
    below = [passage for passage in passages if not passage.goes]
    work = [_built(passage, today, ahead, speed, settings) for passage in below]
    later = max(minutes, settings.concert.day_minutes)
    gone = {passage.name for passage in beyond_reach(below, ahead, later, speed)}
    least = min((one.weight for one in work if one.name not in gone), default=None)
    work = [_last(one, least) if one.name in gone else one for one in work]
    visits = [
        _visited(passage, today, ahead, speed, settings) for passage in passages if passage.goes
    ]
    return _ranked([*kept, *work, *(visit for visit in visits if visit is not None)])


def _ranked(found: Iterable[Standing]) -> list[Standing]:
    return sorted(found, key=lambda one: (-one.weight, one.name))


def _built(
    passage: Worked, today: int, ahead: Ahead, speed: Speed, settings: PlanningSettings
) -> Standing:
    """The way to the goal times the days since the last visit: of two passages that lay equally
    long the one further from its goal comes first, and none waits for ever.  One that is due
    before the others counts for so much more as there are fewer sessions left for it."""
    away = passage.away(today)
    reserve_percent = settings.progress.reserve_percent
    sessions = speed.sessions(passage, passage.ceiling_bpm, reserve_percent)
    waited = _NEW_DAYS if away is None else max(_TODAY_DAYS, away)
    kind: Kind = "learn" if passage.ceiling_bpm is None else "build"
    least = take_minutes(passage, settings.sharing.shortest_minutes, settings)
    weight = sessions * waited * ahead.urgency(passage)
    return Standing(passage, kind, weight, sessions, least)


def _last(one: Standing, least: float | None) -> Standing:
    weight = one.weight if least is None else min(one.weight, _LET_GO * least)
    return replace(one, weight=weight, let_go=True)


def _visited(
    passage: Worked, today: int, ahead: Ahead, speed: Speed, settings: PlanningSettings
) -> Standing | None:
    """A check where one is due, a way still to go to the reserve above the goal, a short visit
    after half of the gap, else nothing."""
    gap = gap_days(passage, ahead.of(passage).days_left, settings.gaps)
    waited = overdue(passage, today, gap)
    if waited >= 1:
        least = take_minutes(passage, settings.sharing.check_minutes, settings)
        return Standing(passage, "check", waited, 0.0, least)
    built = _built(passage, today, ahead, speed, settings)
    if built.sessions > 0:
        return built
    away = passage.away(today)
    kept = _kept(passage, today, ahead, settings)
    return kept if away is None or away >= max(1.0, gap / 2) else None


def _kept(passage: Worked, today: int, ahead: Ahead, settings: PlanningSettings) -> Standing:
    away = passage.away(today) or 0
    least = take_minutes(passage, settings.sharing.keep_minutes, settings)
    return Standing(passage, "keep", (1 + away) * ahead.urgency(passage), 0.0, least)


def take_minutes(passage: Worked, shortest: int, settings: PlanningSettings) -> int:
    """Whole minutes that hold one take and its rest, `shortest` at the least."""
    needed = passage.take_s * (1 + settings.load.rest_ratio) / 60
    return max(shortest, math.ceil(needed - 1e-9))
