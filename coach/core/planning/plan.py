"""The plan of a day: a function of the facts, so that a missed day needs no book-keeping.

What was not practised shows in the ceilings and the days since the last visit, and the next plan
starts from there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from coach.core.planning import tell
from coach.core.planning.concert import Ahead, ahead_of
from coach.core.planning.facts import DayLoad, PlannedDay, Worked, check_facts
from coach.core.planning.load import Allowed, allowed_today
from coach.core.planning.missed import missed_of
from coach.core.planning.progress import practice_share, speed_of
from coach.core.planning.settings import PlanningSettings
from coach.core.planning.share import Shares, shared_out
from coach.core.planning.standing import Kind, standings
from coach.core.planning.turns import in_turns
from coach.core.planning.why import Day, warning, why


@dataclass(frozen=True, slots=True)
class Block:
    """One turn of a passage: `minutes` by the clock, rests included, `kind` "learn", "build",
    "check" or "keep", and in words `what` to do.

    It begins at `from_bpm` and leads to `aim_bpm`, at most; `check_bpm` is the tempo of a first
    cold take, None where there is none.
    """

    name: str
    title: str
    kind: Kind
    minutes: int
    from_bpm: float
    aim_bpm: float
    check_bpm: float | None
    what: str


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What to practise on `day` (as `date.toordinal`), in order.

    `why` says it in two sentences; `warning` in one what cannot be reached by the concert, ""
    where all can, and `let_go` names those passages.  `playing_minutes` of `minutes` are at the
    lips.  `days_left` to the concert is None without one.
    """

    day: int
    blocks: tuple[Block, ...]
    minutes: int
    playing_minutes: float
    days_left: int | None
    why: str
    warning: str
    let_go: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain data, ready for JSON."""
        return asdict(self)


def plan_today(
    passages: Sequence[Worked],
    today: int,
    minutes: float,
    concert_day: int | None,
    settings: PlanningSettings,
    loads: Sequence[DayLoad] = (),
    planned: Sequence[PlannedDay] = (),
) -> DayPlan:
    """What to practise today in `minutes` by the clock, for a concert on a day (as
    `date.toordinal`) or none.

    `loads` are the days on which was played, with those of today so far (the warm-up); a day that
    is not there counts as a day off.  `planned` are the plans of days before: what of the last one
    was not done is told.  ValueError where a figure makes no sense.
    """
    passages, loads = tuple(passages), tuple(load for load in loads if load.day <= today)
    check_facts(passages, minutes, loads)
    share = practice_share(loads, today, settings.progress)
    ahead = ahead_of(passages, today, concert_day, share, settings.concert)
    allowed = allowed_today(loads, today, settings.load)
    total = _total(minutes, allowed, ahead, settings)
    speed = speed_of(passages, settings.progress, settings.load.rest_ratio)
    found = standings(passages, today, minutes, ahead, speed, settings)
    shares = shared_out(found, total, settings.sharing)
    blocks = _blocks(shares, today, settings)
    used = sum(block.minutes for block in blocks)
    missed = missed_of(passages, planned, loads, today)
    day = Day(
        passages, found, shares, ahead, allowed, speed, minutes, total, used, missed, settings
    )
    return DayPlan(
        day=today,
        blocks=blocks,
        minutes=used,
        playing_minutes=round(used / (1 + settings.load.rest_ratio), 1),
        days_left=ahead.day.days_left,
        why=why(day),
        warning=warning(day),
        let_go=tuple(one.name for one in found if one.let_go),
    )


def _total(minutes: float, allowed: Allowed, ahead: Ahead, settings: PlanningSettings) -> int:
    """Whole minutes by the clock: no more than asked, and no more playing than is allowed."""
    asked = minutes * (settings.load.light_share if ahead.day.light else 1)
    return int(min(asked, allowed.minutes * (1 + settings.load.rest_ratio)))


def _blocks(shares: Shares, today: int, settings: PlanningSettings) -> tuple[Block, ...]:
    seen: set[str] = set()
    blocks = []
    for one, minutes in in_turns(shares, settings.sharing):
        again = one.name in seen
        turn = tell.tempi(one, today, settings, again=again)
        what = tell.what(one, turn, again=again)
        blocks.append(
            Block(
                one.name,
                one.passage.title,
                one.kind,
                minutes,
                turn.from_bpm,
                turn.aim_bpm,
                turn.check_bpm,
                what,
            )
        )
        seen.add(one.name)
    return tuple(blocks)
