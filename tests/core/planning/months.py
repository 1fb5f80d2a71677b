"""A month in the life of simulated players who learn and forget, under several ways to plan.

Made without regard to what `core.planning` assumes.  All in log tempo against the goal (0 is the
goal).  A session of m minutes on a passage brings `rate` of what is missing to the passage's own
limit, times 1 - exp(-m / `minutes`): the first minutes bring most.  Each night away the passage
sinks by `loss` of what lies above the tempo at sight; `loss` falls with the number of days on
which it was practised.  Days have a form of their own, ceilings are known with an error.  All
ranges are assumptions, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random

from coach.core.planning import Check, DayLoad, KnownCeiling, Worked, plan_today
from coach.core.planning.load import allowed_today
from coach.files.planning import load_planning

DAYS, FIRST_DAY = 28, 739_000
GOAL_BPM = 120.0
SETTINGS = load_planning()
CEILING_SD, FORM_SD = 0.025, 0.015
_SURE = 1.64


@dataclass
class Piece:
    """One passage in a player's hands."""

    name: str
    sight: float
    limit: float
    rate: float
    minutes: float
    loss: float
    skill: float
    days: int = 0
    played_minutes: float = 0.0
    last_day: int | None = None
    history: list[KnownCeiling] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)

    def practise(self, day: int, minutes: float, chance: Random) -> None:
        """All of a day's minutes at once; afterwards its ceiling is known anew."""
        gain = self.rate * (self.limit - self.skill) * -math.expm1(-minutes / self.minutes)
        self.skill += max(0.0, gain)
        self.played_minutes += minutes
        self.days += 1
        self.last_day = day
        known_bpm = GOAL_BPM * math.exp(self.skill + chance.gauss(0, CEILING_SD))
        self.history.append(KnownCeiling(day, known_bpm))

    def night(self, day: int) -> None:
        if self.last_day != day:
            loss = self.loss / (1 + 0.5 * self.days)
            self.skill -= loss * max(0.0, self.skill - self.sight)

    def facts(self) -> Worked:
        bpm = self.history[-1].bpm if self.history else None
        return Worked(
            self.name,
            self.name,
            GOAL_BPM,
            take_s=15,
            ceiling_bpm=bpm,
            low_bpm=None if bpm is None else bpm * math.exp(-_SURE * CEILING_SD),
            high_bpm=None if bpm is None else bpm * math.exp(_SURE * CEILING_SD),
            history=tuple(self.history),
            days=self.days,
            minutes=self.played_minutes / 2,
            last_day=self.last_day,
            checks=tuple(self.checks),
        )


@dataclass
class Player:
    """The passages, minutes a day, and the days that will be missed."""

    pieces: list[Piece]
    minutes: float
    missed: frozenset[int]
    chance: Random
    loads: list[DayLoad] = field(default_factory=list)

    def time(self, day: int) -> float:
        """The minutes of a day: under every policy half on the last two before the concert, and no
        more playing than is good for the lips."""
        wanted = self.minutes / 2 if day >= FIRST_DAY + DAYS - 2 else self.minutes
        return min(wanted, 2 * allowed_today(self.loads, day, SETTINGS.load).minutes)

    def reached(self) -> int:
        """How many passages go at their goals now."""
        return sum(piece.skill >= 0 for piece in self.pieces)


# From the player's passages, the day and the concert's day: the minutes for each by name.
Policy = Callable[[Player, int, int], Mapping[str, float]]


def player(seed: int) -> Player:
    chance = Random(seed)
    speed = chance.uniform(0.6, 1.4)
    pieces = [_piece(f"p{k}", speed, chance) for k in range(chance.randint(5, 12))]
    miss = chance.uniform(0.05, 0.35)
    missed = frozenset(day for day in range(DAYS) if chance.random() < miss)
    return Player(pieces, chance.choice((20, 30, 40)), missed, chance)


def _piece(name: str, speed: float, chance: Random) -> Piece:
    sight = math.log(chance.uniform(0.45, 0.9))
    return Piece(
        name,
        sight,
        limit=math.log(chance.uniform(1.02, 1.3)),
        rate=speed * chance.uniform(0.08, 0.2),
        minutes=chance.uniform(4, 10),
        loss=chance.uniform(0.02, 0.08),
        skill=sight,
    )


def live(seed: int, policy: Policy) -> tuple[int, int]:
    """A month up to the concert: how many passages go on its day, and of how many."""
    someone = player(seed)
    concert_day = FIRST_DAY + DAYS
    for piece in someone.pieces:
        piece.practise(FIRST_DAY - 1, 1, someone.chance)
    for number in range(DAYS):
        day = FIRST_DAY + number
        if number not in someone.missed:
            _practise(someone, day, policy(someone, day, concert_day))
        for piece in someone.pieces:
            piece.night(day)
    return someone.reached(), len(someone.pieces)


def _practise(someone: Player, day: int, minutes: Mapping[str, float]) -> None:
    assert sum(minutes.values()) <= someone.time(day) + 1e-6
    for piece in someone.pieces:
        if minutes.get(piece.name):
            piece.practise(day, minutes[piece.name], someone.chance)
    someone.loads.append(DayLoad(day, sum(minutes.values()) / 2))


def planned(someone: Player, day: int, concert_day: int) -> Mapping[str, float]:
    """As `plan_today` says; the checks that it asks for are made before anything is played."""
    facts = [piece.facts() for piece in someone.pieces]
    plan = plan_today(facts, day, someone.minutes, concert_day, SETTINGS, someone.loads)
    minutes: Counter[str] = Counter()
    by_name = {piece.name: piece for piece in someone.pieces}
    for block in plan.blocks:
        minutes[block.name] += block.minutes
        if block.kind == "check":
            piece = by_name[block.name]
            form = someone.chance.gauss(0, FORM_SD)
            piece.checks.append(Check(day, piece.skill + form >= 0))
    return minutes


def equal(someone: Player, day: int, concert_day: int) -> Mapping[str, float]:
    """The same time for all, every day."""
    return {piece.name: someone.time(day) / len(someone.pieces) for piece in someone.pieces}


def unfinished(someone: Player, day: int, concert_day: int) -> Mapping[str, float]:
    """The same time for all that are not known to go, for all where none is."""
    below = [piece for piece in someone.pieces if piece.history[-1].bpm < GOAL_BPM]
    chosen = below or someone.pieces
    return {piece.name: someone.time(day) / len(chosen) for piece in chosen}


def weakest(someone: Player, day: int, concert_day: int) -> Mapping[str, float]:
    """All the time for the passage that is known to be furthest from its goal."""
    return {_by_ceiling(someone.pieces)[0].name: someone.time(day)}


def three_weakest(someone: Player, day: int, concert_day: int) -> Mapping[str, float]:
    """The time shared by the three that are furthest: a stronger rival than one alone."""
    return {piece.name: someone.time(day) / 3 for piece in _by_ceiling(someone.pieces)[:3]}


def _by_ceiling(pieces: Sequence[Piece]) -> list[Piece]:
    return sorted(pieces, key=lambda piece: piece.history[-1].bpm)
