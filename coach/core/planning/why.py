"""Why today's plan is as it is: two sentences, and one about what cannot be reached."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.planning.concert import Ahead
from coach.core.planning.facts import Worked
from coach.core.planning.load import Allowed
from coach.core.planning.missed import Missed
from coach.core.planning.progress import Speed
from coach.core.planning.settings import PlanningSettings
from coach.core.planning.share import Shares
from coach.core.planning.standing import Standing

CAUTION = "stop where lips, jaw or hands tire or hurt, and ask your teacher or a doctor"
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Day:
    """All that the sentences draw on; `total` of the minutes `asked` are allowed, `used` are
    planned."""

    passages: Sequence[Worked]
    found: Sequence[Standing]
    shares: Shares
    ahead: Ahead
    allowed: Allowed
    speed: Speed
    asked: float
    total: int
    used: int
    missed: Missed | None
    settings: PlanningSettings


def why(day: Day) -> str:
    """What today is made of, and the reason that matters most."""
    if not day.passages:
        return (
            "There is no passage to plan yet. Play one that you want at a tempo, or set a goal,"
            " coach goal NAME 120, and ask again."
        )
    if not day.used:
        return _nothing(day)
    return f"{_upper(_missed(day.missed) + _made_of(day))}. {_reason(day)}."


def warning(day: Day) -> str:
    """Which goals cannot be reached, "" where all can."""
    gone = sorted((one for one in day.found if one.let_go), key=lambda one: one.sessions)
    if not gone:
        return ""
    furthest = gone[-1]
    left = day.ahead.of(furthest.passage).sessions
    needs = f"{furthest.passage.title} alone needs about {_count(furthest.sessions, 'session')}"
    return (
        f"Not all goals can be reached {_by(day, gone)}: let go of the goal for {_titles(gone)}"
        f" and play it there at what goes by then; {needs}, and there are about {left:.0f}."
    )


def _by(day: Day, gone: Sequence[Standing]) -> str:
    """By when: the concert, or the day that one goal is due on."""
    own = {day.ahead.own[one.name].days_left for one in gone if one.name in day.ahead.own}
    if not own and day.ahead.day.days_left is not None:
        return f"by the concert in {_days(day.ahead.day.days_left)}"
    if len(own) == 1 and len(gone) == 1:
        return f"by the day it is due, in {_days(own.pop() or 0)}"
    return "by the days they are due"


def _missed(missed: Missed | None) -> str:
    """The beginning of the first sentence where something was left out, "" where nothing was."""
    if missed is None:
        return ""
    yesterday, ago = missed.days_ago == 1, f"{_days(missed.days_ago)} ago"
    plan = "yesterday's plan" if yesterday else f"the plan of {ago}"
    if not missed.all:
        return f"{_listed(missed.titles)} of {plan} waited: "
    if missed.played or not yesterday:
        return f"{plan} was missed: "
    return "yesterday was missed: "


def _nothing(day: Day) -> str:
    if day.allowed.minutes < 1:
        return (
            f"Nothing more today: you have played {_minutes(day.allowed.done)} already."
            f" {_upper(_limit(day))}."
        )
    if not day.found:
        new = "What is new now would not hold by the concert"
        first = new if day.ahead.day.light else "All goals go, and no check is due today"
        return f"{first}. A day off does the lips good."
    return (
        f"{_minutes(day.total)} are too few for a take and its rest."
        f" The shortest turn here is {_minutes(min(one.least_minutes for one in day.found))}."
    )


def _made_of(day: Day) -> str:
    shares = day.shares
    parts = []
    if shares.checks:
        parts.append(f"first {_titles(shares.checks)} cold, to hear whether the goal still goes")
    if shares.work:
        turns = " by turns" if len(shares.work) > 1 else ""
        minutes = sum(shares.minutes[one.name] for one in shares.work)
        parts.append(f"{_minutes(minutes)}{turns} for {_listed([_far(o) for o in shares.work])}")
    if shares.keeps:
        parts.append(f"a short visit to {_titles(shares.keeps)}")
    free = day.total - day.used
    if free >= day.settings.sharing.visit_minutes:
        parts[-1] += f"; the other {_minutes(free)} are free"
    return ", then ".join(parts)


def _far(one: Standing) -> str:
    if one.passage.ceiling_bpm is None:
        return f"{one.passage.title} (new)"
    return f"{one.passage.title} ({one.passage.ceiling_bpm:.0f} of {one.passage.goal_bpm:.0f})"


def _reason(day: Day) -> str:
    """The days and the speed, and what keeps today short where something does."""
    days = _upper(_ahead(day))
    limit = _limit(day) if day.total < int(day.asked) and not day.ahead.day.light else ""
    return f"{days}; {limit}" if limit else days


def _ahead(day: Day) -> str:
    pressing = _pressing(day)
    if pressing is not None:
        return _due(day, pressing)
    left, ahead = day.ahead.day.days_left, day.ahead.day
    if left is not None and ahead.light:
        light = "only run-throughs at what goes, to come with fresh lips"
        return f"the concert {_when(left)}: {light}"
    start = "the concert day has passed, so no date presses" if ahead.past else "no date presses"
    if left is not None:
        due = max(0, left - day.settings.concert.margin_days)
        start = f"the concert {_when(left)}, the goals are due in {_days(due)}"
    work = [one for one in day.shares.work if not one.let_go]
    if not work:
        return f"{start}, and what goes is played again after growing gaps"
    return f"{start}: {_needs(day, max(work, key=lambda one: one.sessions))}"


def _pressing(day: Day) -> Standing | None:
    """What comes today and is due first, of all that are due before the concert."""
    come = [*day.shares.work, *day.shares.checks, *day.shares.keeps]
    due = [one for one in come if one.name in day.ahead.own and not one.let_go]
    return min(due, key=lambda one: (_left(day, one), -one.sessions, one.name), default=None)


def _left(day: Day, one: Standing) -> int:
    return day.ahead.of(one.passage).days_left or 0


def _due(day: Day, one: Standing) -> str:
    left, concert = _left(day, one), day.ahead.day.days_left
    start = f"{one.passage.title} {_when(left, 'due ')}"
    if concert is not None:
        start += f", before the concert in {_days(concert)}"
    if day.ahead.of(one.passage).light:
        return f"{start}: only run-throughs of it at what goes"
    if not one.work:
        return f"{start}, so it is played again before that"
    return f"{start}: {_needs(day, one)}"


def _when(days_left: int, due: str = "") -> str:
    """ "is today", "is due tomorrow", "is in 5 days"."""
    return {0: f"is {due}today", 1: f"is {due}tomorrow"}.get(
        days_left, f"is {due}in {_days(days_left)}"
    )


def _needs(day: Day, one: Standing) -> str:
    """How fast it gets on, and how many sessions it needs."""
    percent = 100 * math.expm1(day.speed.of(one.passage))
    whose = "your" if len(one.passage.history) > 1 else "an assumed"
    needs = f"{one.passage.title} needs about {_count(one.sessions, 'more session')}"
    return f"at {whose} {percent:.1f} % a session {needs}"


def _limit(day: Day) -> str:
    allowed, load = day.allowed, day.settings.load
    if allowed.usual is None:
        return f"more than {load.most_minutes:.0f} minutes at the lips are not planned; {CAUTION}"
    usual = f"your usual day has {_minutes(allowed.usual)} at the lips"
    reasons = {
        "growth": f"{usual}, and no day should have more than {100 * load.growth:.0f} % above it",
        "week": f"seven days should have no more than {100 * load.growth:.0f} % above a usual week",
        "heavy": f"yesterday was heavy ({usual}), so today is light",
        "seventh": f"six days without a light one lie behind you ({usual}), so today is one",
    }
    return f"{reasons[allowed.reason]}; {CAUTION}"


def _titles(found: Sequence[Standing]) -> str:
    return _listed([one.passage.title for one in found])


def _listed(names: Sequence[str]) -> str:
    """ "A, B and 2 more"."""
    shown, more = list(names[:MOST_NAMED]), len(names) - MOST_NAMED
    if more > 0:
        shown.append(f"{more} more")
    return " and ".join(part for part in (", ".join(shown[:-1]), shown[-1]) if part)


def _minutes(minutes: float) -> str:
    return _count(minutes, "minute")


def _days(days: int) -> str:
    return _count(days, "day")


def _count(number: float, unit: str) -> str:
    """At least 1 where anything is left: "about 0 sessions" would say that all is done."""
    whole = max(1, round(number)) if number > 0 else 0
    return f"{whole} {unit}" if whole == 1 else f"{whole} {unit}s"


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]
