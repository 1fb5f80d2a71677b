"""Whose turn it is, and at which tempo.

Takes come in pairs, each way once, at one tempo; which comes first is a fair coin for every pair,
tossed apart from all that was played: the test rests on that (`sequential`).  So no way is ever
played more than twice running.  The tempo moves between pairs only, and only when both ways ask
for it alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Literal

from coach.core.trial.settings import TrialSettings

Way = Literal["a", "b"]


@dataclass(frozen=True, slots=True)
class TrialTurn:
    """One take to play: which way, at which tempo, in which pair (from 0)."""

    way: Way
    tempo_bpm: float
    pair: int


def first_way(seed: int, pair: int) -> Way:
    """Which way opens the pair: a toss that depends on seed and pair alone."""
    return "a" if Random(f"{seed}/{pair}").random() < 0.5 else "b"


def other(way: Way) -> Way:
    return "b" if way == "a" else "a"


def next_turn(seed: int, pair: int, played: int, tempo_bpm: float) -> TrialTurn:
    """The turn after `played` (0 or 1) takes of the pair."""
    first = first_way(seed, pair)
    return TrialTurn(other(first) if played else first, tempo_bpm, pair)


def next_tempo_bpm(
    tempo_bpm: float, first_bpm: float, shares: tuple[float, float], settings: TrialSettings
) -> float:
    """The tempo of the next pair: a step up after two clean takes, down after two poor ones.

    Near the ceiling or the floor two ways can't be told apart; the most is told where about three
    in four to nine in ten notes are clean.  `shares` are the clean shares of the pair just played.
    """
    factor = 1 + settings.step_percent / 100
    if min(shares) >= settings.up_share:
        tempo_bpm *= factor
    elif max(shares) < settings.down_share:
        tempo_bpm /= factor
    slowest, fastest = (
        first_bpm * limit for limit in (settings.slowest_factor, settings.fastest_factor)
    )
    return round(min(fastest, max(slowest, tempo_bpm)), 1)
