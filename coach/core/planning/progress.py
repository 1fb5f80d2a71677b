"""How fast the player gets on, and how many sessions each passage still needs.

Gains are in log tempo a session, so that from 60 to 66 is as far as from 120 to 132.  Few sessions
tell little: the player's mean is drawn to the prior, and each passage's own to the player's mean,
by the sessions behind them (the mean of a normal with a conjugate prior; Gelman et al., Bayesian
Data Analysis, ch. 2, from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.planning.facts import DayLoad, Worked
from coach.core.planning.settings import Progress

_HABIT_DAYS, _PRIOR_DAYS = 14, 7


@dataclass(frozen=True, slots=True)
class Speed:
    """The player's gain in log tempo a session, and how many minutes by the clock a
    session on one passage lasts."""

    gain: float
    session_minutes: float
    settings: Progress

    def sessions(self, passage: Worked, bpm: float | None, reserve_percent: float = 0) -> float:
        """How many sessions bring it from `bpm` (None: not known) to its goal and so much above
        it; one at least where a check failed."""
        from_bpm = bpm or passage.goal_bpm * self.settings.start_share
        to_bpm = passage.goal_bpm * (1 + reserve_percent / 100)
        way = max(0.0, math.log(to_bpm / from_bpm))
        return max(way / self.of(passage), float(passage.slipped))

    def of(self, passage: Worked) -> float:
        """The gain a session of one passage, in log tempo."""
        return _drawn(*_gained(passage, self.settings), self.gain, self.settings)


def speed_of(passages: Sequence[Worked], settings: Progress, rest_ratio: float) -> Speed:
    """From all passages; a minute at the lips has `rest_ratio` of rest beside it."""
    gained = [_gained(passage, settings) for passage in passages]
    total, sessions = sum(one for one, _ in gained), sum(count for _, count in gained)
    prior = math.log1p(settings.gain_percent / 100)
    played = sum(passage.minutes for passage in passages)
    minutes = settings.sessions * settings.session_minutes + played * (1 + rest_ratio)
    days = settings.sessions + sum(p.days for p in passages)
    return Speed(_drawn(total, sessions, prior, settings), minutes / days, settings)


def _gained(passage: Worked, settings: Progress) -> tuple[float, int]:
    """Log tempo gained lately, and over how many sessions; visits after the goal do not count."""
    pairs = [
        (before, after)
        for before, after in itertools.pairwise(passage.history)
        if before.bpm < passage.goal_bpm
    ]
    pairs = pairs[-settings.recent_sessions :]
    return sum(math.log(after.bpm / before.bpm) for before, after in pairs), len(pairs)


def _drawn(total: float, sessions: int, prior: float, settings: Progress) -> float:
    mean = (settings.sessions * prior + total) / (settings.sessions + sessions)
    return max(mean, math.log1p(settings.least_percent / 100))


def practice_share(loads: Sequence[DayLoad], today: int, settings: Progress) -> float:
    """The share of days on which the player practises, from the last two weeks as far as known."""
    past = [load for load in loads if today - _HABIT_DAYS <= load.day < today]
    if not past:
        return settings.practice_share
    known = today - min(load.day for load in past)
    played = len({load.day for load in past if load.minutes > 0})
    return (played + _PRIOR_DAYS * settings.practice_share) / (known + _PRIOR_DAYS)
