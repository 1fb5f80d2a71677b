"""The gate: the metronome moves on only when enough notes were clean.

The share of correct trials predicts the next day's result, time spent does not (Duke, Simmons and
Cash 2009, J. Res. Music Educ. 56:310), so the gate is the point; no study shows that a ladder of
tempi beats another order (Henley 2001 found no difference), so the ladder is adjustable.
A step under about 3 % can't be felt (Drake and Botte 1993, Percept. Psychophys. 54).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

SLOWEST_SHARE_OF_START = 0.5
RULES = ("steps", "weighted", "ceiling")


@dataclass(frozen=True, slots=True)
class Gate:
    """`threshold`: share of clean notes that passes a take; `passes`: so many in a row to go up;
    `step_percent`: up and down by this; `back_after`: failures in a row before stepping back;
    `rule`: how the tempo moves, one of `RULES` (see `core.pace`)."""

    threshold: float = 0.9
    passes: int = 1
    step_percent: float = 4.0
    back_after: int = 2
    rule: str = "steps"

    def passed(self, accuracy: float) -> bool:
        return accuracy >= self.threshold - 1e-9

    def needed(self, notes: int) -> int:
        """How many of so many notes must be clean for the take to pass."""
        return math.ceil(self.threshold * notes - 1e-9)


@dataclass(frozen=True, slots=True)
class Pace:
    """Where the player stands on the way from one tempo to another."""

    tempo_bpm: float
    from_bpm: float
    to_bpm: float
    passes_in_a_row: int = 0
    failures_in_a_row: int = 0
    reached: bool = False

    def moved_to(self, tempo_bpm: float) -> Pace:
        """The same way, at another tempo (within half the start and the goal), counts at nought."""
        lowest = self.from_bpm * SLOWEST_SHARE_OF_START
        tempo = round(min(self.to_bpm, max(lowest, tempo_bpm)), 1)
        return Pace(tempo, self.from_bpm, self.to_bpm)


def start(from_bpm: float, to_bpm: float) -> Pace:
    return Pace(from_bpm, from_bpm, to_bpm)


def stepped(pace: Pace, gate: Gate, direction: int) -> Pace:
    """One step of the gate up (+1) or down (-1)."""
    factor = 1 + gate.step_percent / 100
    return pace.moved_to(pace.tempo_bpm * factor**direction)


def after_take(pace: Pace, gate: Gate, accuracy: float) -> Pace:
    """The pace after a take: up after enough passes in a row, back after enough failures."""
    if gate.passed(accuracy):
        count = pace.passes_in_a_row + 1
        if count < gate.passes:
            return Pace(pace.tempo_bpm, pace.from_bpm, pace.to_bpm, passes_in_a_row=count)
        if pace.tempo_bpm >= pace.to_bpm:
            return Pace(pace.tempo_bpm, pace.from_bpm, pace.to_bpm, count, 0, reached=True)
        return stepped(pace, gate, +1)
    count = pace.failures_in_a_row + 1
    if count < gate.back_after:
        return Pace(pace.tempo_bpm, pace.from_bpm, pace.to_bpm, failures_in_a_row=count)
    return stepped(pace, gate, -1)
