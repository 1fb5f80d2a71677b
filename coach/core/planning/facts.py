"""What the plan of the day is made from: the passages worked at, and how much was played."""

from __future__ import annotations

import math
from dataclasses import dataclass

LONGEST_MINUTES = 600


@dataclass(frozen=True, slots=True)
class Check:
    """A retention check: one cold take on `day` (as `date.toordinal`), and whether it went."""

    day: int
    passed: bool


@dataclass(frozen=True, slots=True)
class KnownCeiling:
    """The clean ceiling as it was known on `day`, in clicks a minute."""

    day: int
    bpm: float


@dataclass(frozen=True, slots=True)
class Worked:
    """A passage that the player works at; days count as `date.toordinal`, tempi in clicks a minute.

    `ceiling_bpm` is the clean ceiling with `low_bpm` to `high_bpm` about it, None while nobody
    knows it; `history` the earlier ceilings, one a day at most, in order.  It was practised on
    `days` days, `minutes` at the lips in all, on `last_day` for the last time; one take lasts
    `take_s`.  `checks` are its retention checks in order.  It must go by
    `due_day`, None where no day of its own presses.
    """

    name: str
    title: str
    goal_bpm: float
    take_s: float
    ceiling_bpm: float | None = None
    low_bpm: float | None = None
    high_bpm: float | None = None
    history: tuple[KnownCeiling, ...] = ()
    days: int = 0
    minutes: float = 0.0
    last_day: int | None = None
    checks: tuple[Check, ...] = ()
    due_day: int | None = None

    @property
    def goes(self) -> bool:
        """Whether the goal goes, as far as is known; not if the last check failed and the passage
        was not practised on a later day."""
        known = self.ceiling_bpm is not None and self.ceiling_bpm >= self.goal_bpm
        return known and not self.slipped

    @property
    def slipped(self) -> bool:
        """Whether the last check failed and nothing was done about it on a later day."""
        failed = bool(self.checks) and not self.checks[-1].passed
        return failed and (self.last_day is None or self.last_day <= self.checks[-1].day)

    def away(self, today: int) -> int | None:
        """Days since it was practised, None if it never was."""
        return None if self.last_day is None else max(0, today - self.last_day)


@dataclass(frozen=True, slots=True)
class DayLoad:
    """Minutes with the instrument at the lips on a day: warm-up, practice, rehearsals, concerts."""

    day: int
    minutes: float


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """What was planned on a day (as `date.toordinal`): the names of the passages."""

    day: int
    names: tuple[str, ...]


def check_facts(passages: tuple[Worked, ...], minutes: float, loads: tuple[DayLoad, ...]) -> None:
    """ValueError where a figure makes no sense or a name comes twice."""
    if not 1 <= minutes <= LONGEST_MINUTES:
        raise ValueError(f"a plan is for 1 to {LONGEST_MINUTES} minutes")
    if len({passage.name for passage in passages}) < len(passages):
        raise ValueError("the same passage is given twice")
    for passage in passages:
        _check_passage(passage)
    for load in loads:
        if not 0 <= load.minutes <= 24 * 60:
            raise ValueError("the minutes played on a day lie from 0 to 1440")


def _check_passage(passage: Worked) -> None:
    known = (passage.ceiling_bpm, passage.low_bpm, passage.high_bpm)
    tempi = [passage.goal_bpm, *(bpm for bpm in known if bpm is not None)]
    tempi += [one.bpm for one in passage.history]
    if not all(math.isfinite(bpm) and bpm > 0 for bpm in tempi):
        raise ValueError(f'every tempo of "{passage.title}" must be above 0')
    counts = (passage.take_s, passage.days, passage.minutes)
    if not all(math.isfinite(count) and count >= 0 for count in counts):
        raise ValueError(f'times and counts of "{passage.title}" must be 0 or more')
