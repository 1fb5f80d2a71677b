"""The days up to the concert, and what cannot be reached by then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.planning.facts import Worked
from coach.core.planning.progress import Speed
from coach.core.planning.settings import Concert


@dataclass(frozen=True, slots=True)
class Horizon:
    """`days_left` to the concert (0: it is today), None without one or after it; on about
    `sessions` days the player will still practise before the goals are due; `light`: from now on
    only run-throughs."""

    days_left: int | None
    sessions: float
    light: bool
    past: bool


def horizon(today: int, concert_day: int | None, share: float, settings: Concert) -> Horizon:
    """Seen from today, where the player practises on a `share` of the days."""
    if concert_day is None or concert_day < today:
        sessions = max(1.0, settings.horizon_days * share)
        return Horizon(None, sessions, False, concert_day is not None)
    left = concert_day - today
    sessions = max(1.0, (left - settings.margin_days) * share)
    return Horizon(left, sessions, left <= settings.light_days, False)


def beyond_reach(
    passages: Sequence[Worked], ahead: Horizon, minutes: float, speed: Speed
) -> tuple[Worked, ...]:
    """The goals to let go of so that as many others as possible are reached.

    The nearest goals are kept for as long as they fit into the sessions left and the time of all of
    them.  A passage counts with the high end of what it may go at, so that none is let go of
    because it is not known well.  Nothing is without a concert, or on its last days.
    """
    if ahead.days_left is None or ahead.light:
        return ()
    room = ahead.sessions * max(1.0, minutes / speed.session_minutes)
    needed = {p.name: speed.sessions(p, p.high_bpm or p.ceiling_bpm) for p in passages}
    gone = []
    for passage in sorted(passages, key=lambda p: (needed[p.name], p.name)):
        need = needed[passage.name]
        if need > ahead.sessions or need > room:
            gone.append(passage)
        else:
            room -= need
    return tuple(gone)
