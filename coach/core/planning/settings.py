"""How the plan of the day is made; configs/planning.toml has the figures and their reasons."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Gaps:
    """When a passage that goes is checked again.

    `first_days` after it went for the first time or a check failed, `growth` times longer after
    each check that went, `longest_days` at most; before a concert at most `concert_share` of the
    days that are left.  The first take of a passage below its goal is a check too if it lay for
    `stale_days`.
    """

    first_days: float
    growth: float
    longest_days: float
    concert_share: float
    stale_days: int


@dataclass(frozen=True, slots=True)
class Sharing:
    """Minutes by the clock, rests included: a turn lasts `shortest_minutes` to `turn_minutes`; a
    passage that is built has `visit_minutes` on the average and `most_minutes` at most in a day.

    Checks have at most `check_share` of the time, short visits `keep_share` where there is
    anything to build.  Of passages never played `most_new` come in a day.
    """

    turn_minutes: int
    shortest_minutes: int
    visit_minutes: int
    most_minutes: int
    check_minutes: int
    keep_minutes: int
    check_share: float
    keep_share: float
    most_new: int


@dataclass(frozen=True, slots=True)
class Progress:
    """What is assumed of a player's speed until the player's own sessions tell it.

    `gain_percent` of tempo a session of `session_minutes`, believed as firmly as `sessions` of
    the player's own, never less than `least_percent`.  Of each passage's own sessions the last
    `recent_sessions` count, since gains flatten.  A passage never played is taken to go at
    `start_share` of its goal; it is built to `reserve_percent` above the goal.  A turn begins at
    `begin_share` of what goes.  The player practises on `practice_share` of the days, believed
    like a week of the player's own days.
    """

    gain_percent: float
    session_minutes: float
    sessions: float
    least_percent: float
    recent_sessions: int
    reserve_percent: float
    start_share: float
    begin_share: float
    practice_share: float


@dataclass(frozen=True, slots=True)
class Concert:
    """Goals are due `margin_days` before it; on the last `light_days` there are only run-throughs.
    Without a date the way to a goal is planned over `horizon_days`.  The days to come are taken to
    be as long as today, but no shorter than `day_minutes`: one short day lets nothing go."""

    margin_days: int
    light_days: int
    horizon_days: int
    day_minutes: float


@dataclass(frozen=True, slots=True)
class Load:
    """Playing and rest.  The usual day is the mean of the days played of the last `usual_days`,
    once there are `fewest_days` of them; until then `most_minutes` are played at most.

    Neither a day nor seven days grow by more than `growth` over the usual.  A day after one of
    more than `heavy_ratio` times the usual, and one day in seven, have `light_share` of the usual
    at most.  What is left is never cut below `least_minutes` a day.
    """

    rest_ratio: float
    growth: float
    usual_days: int
    fewest_days: int
    heavy_ratio: float
    light_share: float
    least_minutes: float
    most_minutes: float


@dataclass(frozen=True, slots=True)
class PlanningSettings:
    gaps: Gaps
    sharing: Sharing
    progress: Progress
    concert: Concert
    load: Load
