"""A simulated player of two ways, who keeps to none of the test's assumptions.

His takes vary beyond their notes, a missed note makes the next one likelier to be missed, he learns
for the first eight pairs and tires after the tenth, the second take of a pair goes worse than the
first, and a faster tempo costs clean notes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random
from statistics import NormalDist, fmean

from coach.core.trial.order import TrialTurn
from coach.core.trial.settings import TrialSettings
from coach.core.trial.trial import Trial, begin

TEMPO_BPM = 112.0


@dataclass(frozen=True, slots=True)
class Habits:
    """In logits of a note's chance to be clean: how much takes vary, what the second take of a
    pair, a pair learnt, a pair tired, a note missed just before, and a doubled tempo add."""

    take_sd: float = 0.5
    second: float = -0.3
    learning: float = 0.06
    tiring: float = -0.06
    after_miss: float = -0.7
    tempo: float = -5.0


# No learning, no order, no tiring: takes that vary by their notes only.
PLAIN = Habits(take_sd=0.0, second=0.0, learning=0.0, tiring=0.0, after_miss=0.0, tempo=0.0)
RAGGED = Habits(take_sd=0.8, second=-0.6, learning=0.15, tiring=-0.15, after_miss=-1.2)


def chance(logit: float) -> float:
    return 1 / (1 + math.exp(-logit))


def level_for(share: float, habits: Habits) -> float:
    """The logit at which the mean clean share of a first take is `share`, by bisection."""
    parts = [NormalDist().inv_cdf((k + 0.5) / 40) * habits.take_sd for k in range(40)]
    low, high = -6.0, 8.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        if fmean(_settled(middle + part, habits) for part in parts) < share:
            low = middle
        else:
            high = middle
    return low


def _settled(logit: float, habits: Habits) -> float:
    """The share of clean notes where each hangs on the one before (a chain of two states)."""
    after_clean, after_missed = chance(logit), chance(logit + habits.after_miss)
    return after_missed / (1 - after_clean + after_missed)


class Player:
    """Plays the turns of one trial; `shares` are the clean shares of ways a and b."""

    def __init__(self, levels: dict[str, float], seed: int, habits: Habits) -> None:
        self._levels, self._habits, self._rng = levels, habits, Random(f"player {seed}")

    def play(self, turn: TrialTurn, second: bool, notes: int) -> int:
        """How many notes were clean."""
        habits, rng = self._habits, self._rng
        logit = self._levels[turn.way] + rng.gauss(0, habits.take_sd)
        logit += habits.second * second + habits.learning * min(turn.pair, 8)
        logit += habits.tiring * max(0, turn.pair - 10)
        logit += habits.tempo * math.log2(turn.tempo_bpm / TEMPO_BPM)
        clean, missed = 0, False
        for _ in range(notes):
            missed = rng.random() >= chance(logit + habits.after_miss * missed)
            clean += not missed
        return clean


def levels_for(shares: tuple[float, float], habits: Habits) -> dict[str, float]:
    return {way: level_for(share, habits) for way, share in zip("ab", shares, strict=True)}


def played(
    levels: dict[str, float],
    seed: int,
    habits: Habits,
    notes: int = 16,
    settings: TrialSettings | None = None,
) -> Trial:
    """A whole trial of one player."""
    player = Player(levels, seed, habits)
    trial = begin(settings or TrialSettings(), notes, TEMPO_BPM, seed)
    while (turn := trial.next()) is not None:
        clean = player.play(turn, trial.open_take is not None, notes)
        trial = trial.after(turn, clean, notes)
    return trial


def verdict(trial: Trial) -> str:
    """ "a", "b", "even" or "open"."""
    return trial.test.cleaner or ("even" if trial.ended == "even" else "open")
