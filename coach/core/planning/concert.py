"""The days up to the concert or the day a goal is due, and what cannot be reached by then."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    """Seen from today, where the player practises on a `share` of the days; a day on which a goal
    is due is as a concert."""
    if concert_day is None or concert_day < today:
        sessions = max(1.0, settings.horizon_days * share)
        return Horizon(None, sessions, False, concert_day is not None)
    left = concert_day - today
    sessions = max(1.0, (left - settings.margin_days) * share)
    return Horizon(left, sessions, left <= settings.light_days, False)


@dataclass(frozen=True, slots=True)
class Ahead:
    """The horizon of the day; `own`: of each passage that is due before the concert, by name."""

    day: Horizon
    own: Mapping[str, Horizon]

    def of(self, passage: Worked) -> Horizon:
        return self.own.get(passage.name, self.day)

    def urgency(self, passage: Worked) -> float:
        """How many times fewer sessions are left for it than for the others; 1 at the least."""
        return max(1.0, self.day.sessions / self.of(passage).sessions)


def ahead_of(
    passages: Sequence[Worked], today: int, concert_day: int | None, share: float, settings: Concert
) -> Ahead:
    """The earlier of both, the concert and the passage's own day, is its horizon."""
    day = horizon(today, concert_day, share, settings)
    own = {
        passage.name: horizon(today, passage.due_day, share, settings)
        for passage in passages
        if passage.due_day is not None and _comes_first(passage.due_day, today, day)
    }
    return Ahead(day, own)


def _comes_first(due_day: int, today: int, day: Horizon) -> bool:
    return due_day >= today and (day.days_left is None or due_day - today < day.days_left)


def beyond_reach(
    passages: Sequence[Worked], ahead: Ahead, minutes: float, speed: Speed
) -> tuple[Worked, ...]:
    """The goals to let go of so that as many others as possible are reached.

    The nearest goals are kept for as long as they fit into the sessions left and the time of all
    that are due by then.  A passage counts with the high end of what it may go at, so that none is
    let go of because it is not known well.  Nothing is without a day, or on the last days.
    """
    dated = [p for p in passages if ahead.of(p).days_left is not None and not ahead.of(p).light]
    at_once = max(1.0, minutes / speed.session_minutes)
    # By how many sessions are left: how many fit in until then, those due before with them.
    room = {ahead.of(p).sessions: ahead.of(p).sessions * at_once for p in dated}
    needed = {p.name: speed.sessions(p, p.high_bpm or p.ceiling_bpm) for p in dated}
    gone = []
    for passage in sorted(dated, key=lambda p: (needed[p.name], p.name)):
        need, sessions = needed[passage.name], ahead.of(passage).sessions
        later = [left for left in room if left >= sessions]
        if need > sessions or need > min(room[left] for left in later):
            gone.append(passage)
        else:
            room |= {left: room[left] - need for left in later}
    return tuple(gone)
