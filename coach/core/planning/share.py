"""The minutes of the day shared out, and cut into turns.

Everything is in whole minutes by the clock.  Turns of a few minutes instead of one long block:
Carter and Grahn 2016 (Front. Psychol. 7:1251) had ten clarinetists practise in turns of 3 minutes
or blocks of 12, and where ratings differed they favoured turns; so did Stambaugh 2011 (J. Res.
Music Educ. 58:368, 41 beginners, on the next day).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from coach.core.planning.settings import Sharing
from coach.core.planning.standing import Standing


@dataclass(slots=True)
class Shares:
    """What comes today: checks and short visits once each, work with its minutes.

    `between` are further short visits, where there is too little other work to take turns with.
    """

    checks: list[Standing] = field(default_factory=list)
    keeps: list[Standing] = field(default_factory=list)
    work: list[Standing] = field(default_factory=list)
    between: list[Standing] = field(default_factory=list)
    minutes: dict[str, int] = field(default_factory=dict)
    spare: int = 0

    def take(self, into: list[Standing], one: Standing) -> None:
        into.append(one)
        self.minutes.setdefault(one.name, one.least_minutes)
        self.spare -= one.least_minutes

    def fill(self, into: list[Standing], found: Sequence[Standing], most_minutes: float) -> None:
        """As many of `found` as fit into so many minutes; the rest stays as it is."""
        left = min(self.spare, most_minutes)
        for one in found:
            if one.least_minutes <= left:
                self.take(into, one)
                left -= one.least_minutes


def shared_out(found: Sequence[Standing], total: int, sharing: Sharing) -> Shares:
    """`found` in the order of `standing.standings`."""
    shares = Shares(spare=total)
    wanted = [one for one in found if one.work]
    checks = [one for one in found if one.kind == "check"]
    keeps = [one for one in found if one.kind == "keep"]
    # One check always fits, however short the day is.
    first = checks[0].least_minutes if checks else 0
    most = max(first, total * sharing.check_share) if wanted else total
    shares.fill(shares.checks, checks, most)
    shares.fill(shares.keeps, keeps, total * sharing.keep_share if wanted else total)
    _choose(wanted, shares, sharing)
    _grow(shares, sharing)
    return shares


def _choose(wanted: Sequence[Standing], shares: Shares, sharing: Sharing) -> None:
    """The most wanted, as many as can have a visit that is worth it."""
    count = max(1, shares.spare // sharing.visit_minutes)
    new = 0
    for one in wanted:
        too_new = one.kind == "learn" and new >= sharing.most_new
        if len(shares.work) < count and one.least_minutes <= shares.spare and not too_new:
            shares.take(shares.work, one)
            new += one.kind == "learn"


def _grow(shares: Shares, sharing: Sharing) -> None:
    """Minute by minute to the passage with the most weight for each minute it has (D'Hondt's rule:
    who weighs more never gets less), as long as the turns can be kept apart."""
    while shares.spare > 0:
        hungry = [one for one in shares.work if _minutes(one, shares) < sharing.most_minutes]
        free = [one for one in hungry if not _alone(one, shares, sharing)]
        if free:
            best = max(free, key=lambda one: (one.weight / (1 + _minutes(one, shares)), one.name))
            shares.minutes[best.name] += 1
            shares.spare -= 1
        elif not (hungry and _separate(shares)):
            return


def _minutes(one: Standing, shares: Shares) -> int:
    return shares.minutes[one.name]


def _alone(one: Standing, shares: Shares, sharing: Sharing) -> bool:
    """Whether with a minute more its turns would have to follow each other."""
    others = [other for other in shares.work if other.name != one.name]
    visits = len(shares.keeps) + len(shares.between)
    if not (others or visits or shares.checks):
        return False
    turns = math.ceil((_minutes(one, shares) + 1) / longest_turn(one, sharing))
    most = sum(_minutes(other, shares) // other.least_minutes for other in others)
    return turns > most + visits + bool(shares.checks)


def _separate(shares: Shares) -> bool:
    """One more short visit of a passage that goes, if there is one and time for it."""
    there = [*shares.checks, *shares.keeps]
    if not there:
        return False
    came = Counter(visit.name for visit in shares.between)
    one = min(there, key=lambda visit: came[visit.name])
    if one.least_minutes >= shares.spare:
        return False
    shares.take(shares.between, replace(one, kind="keep"))
    return True


def longest_turn(one: Standing, sharing: Sharing) -> int:
    """Twice the least where a take is long, so that its minutes can be cut evenly."""
    return max(sharing.turn_minutes, 2 * one.least_minutes)
