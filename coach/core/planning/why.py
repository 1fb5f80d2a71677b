"""Why today's plan is as it is: two sentences, and one about what cannot be reached."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.planning.concert import Horizon
from coach.core.planning.facts import Worked
from coach.core.planning.load import Allowed
from coach.core.planning.progress import Speed
from coach.core.planning.settings import Settings
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
    ahead: Horizon
    allowed: Allowed
    speed: Speed
    asked: float
    total: int
    used: int
    settings: Settings


def why(day: Day) -> str:
    """What today is made of, and the reason that matters most."""
    if not day.passages:
        return "There is no passage to plan yet. Play one that you want at a tempo, and ask again."
    if not day.used:
        return _nothing(day)
    return f"{_made_of(day)}. {_reason(day)}."


def warning(day: Day) -> str:
    """Which goals cannot be reached, "" where all can."""
    gone = sorted((one for one in day.found if one.let_go), key=lambda one: one.sessions)
    if not gone or day.ahead.days_left is None:
        return ""
    furthest = gone[-1]
    needs = f"{furthest.passage.title} alone needs about {_count(furthest.sessions, 'session')}"
    return (
        f"Not all goals can be reached by the concert in {_days(day.ahead.days_left)}: let go of"
        f" the goal for {_titles(gone)} and play it there at what goes by then; {needs}, and there"
        f" are about {day.ahead.sessions:.0f}."
    )


def _nothing(day: Day) -> str:
    if day.allowed.minutes < 1:
        return (
            f"Nothing more today: you have played {_minutes(day.allowed.done)} already."
            f" {_upper(_limit(day))}."
        )
    if not day.found:
        new = "What is new now would not hold by the concert"
        first = new if day.ahead.light else "All goals go, and no check is due today"
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
    return _upper(", then ".join(parts))


def _far(one: Standing) -> str:
    if one.passage.ceiling_bpm is None:
        return f"{one.passage.title} (new)"
    return f"{one.passage.title} ({one.passage.ceiling_bpm:.0f} of {one.passage.goal_bpm:.0f})"


def _reason(day: Day) -> str:
    """The days and the speed, and what keeps today short where something does."""
    days = _upper(_ahead(day))
    limit = _limit(day) if day.total < int(day.asked) and not day.ahead.light else ""
    return f"{days}; {limit}" if limit else days


def _ahead(day: Day) -> str:
    left, settings = day.ahead.days_left, day.settings
    if left is not None and day.ahead.light:
        when = {0: "is today", 1: "is tomorrow"}.get(left, f"is in {_days(left)}")
        return f"the concert {when}: only run-throughs at what goes, to come with fresh lips"
    start = (
        "the concert day has passed, so no date presses" if day.ahead.past else "no date presses"
    )
    if left is not None:
        due = max(0, left - settings.concert.margin_days)
        start = f"the concert is in {_days(left)}, the goals are due in {_days(due)}"
    work = [one for one in day.shares.work if not one.let_go]
    if not work:
        return f"{start}, and what goes is played again after growing gaps"
    most = max(work, key=lambda one: one.sessions)
    needs = f"{most.passage.title} needs about {_count(most.sessions, 'more session')}"
    percent = 100 * math.expm1(day.speed.of(most.passage))
    whose = "your" if len(most.passage.history) > 1 else "an assumed"
    return f"{start}: at {whose} {percent:.1f} % a session {needs}"


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
