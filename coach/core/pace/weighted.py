"""Weighted up-down steps in log tempo.

A staircase goes harder after `successes` passes in a row and easier after a failure.  It rests
where both are equally likely to move it: at a share p of passes with p**successes = easier_ln /
(easier_ln + harder_ln).  Equal steps give the points of Levitt (1971), J. Acoust. Soc. Am. 49:467;
one success is the weighted rule of Kaernbach (1991), Percept. Psychophys. 49:227, easier / harder =
p / (1 - p); several with unequal steps are those of García-Pérez (1998), Vision Res. 38:1861.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import fmean, stdev

from coach.core import gate as gating
from coach.core.gate import Gate, Pace

# Back by two steps after a failure.  Steps that shrink after turns lose a ceiling that moves
# in simulation, so these don't.
TARGET_PASSES = 2 / 3
# A tempo change under 3 % can't be felt (Drake and Botte 1993, Percept. Psychophys. 54), the best
# ears notice half of that: a smaller step would be none.
SMALLEST_STEP = 0.015
TURNS_FOR_ESTIMATE, KNOWN_WITHIN = 6, 0.03


@dataclass(frozen=True, slots=True)
class Rule:
    """Steps in log tempo: up by `harder_ln` after `successes` in a row, down by `easier_ln`."""

    harder_ln: float
    easier_ln: float
    successes: int = 1

    @property
    def point(self) -> float:
        """The share of passes on which the staircase converges."""
        return float((self.easier_ln / (self.easier_ln + self.harder_ln)) ** (1 / self.successes))


def balanced(point: float, harder_ln: float, successes: int = 1) -> Rule:
    """The rule that converges on a share of passes (0 < point < 1)."""
    run = point**successes
    return Rule(harder_ln, harder_ln * run / (1 - run), successes)


@dataclass(frozen=True, slots=True)
class Staircase:
    """Where a staircase stands; `turns_ln` are the levels at which it changed its direction."""

    level_ln: float
    in_a_row: int = 0
    direction: int = 0
    turns_ln: tuple[float, ...] = ()

    def after(self, passed: bool, rule: Rule) -> Staircase:
        if not passed:
            return self._moved(-1, -rule.easier_ln)
        if self.in_a_row + 1 < rule.successes:
            return replace(self, in_a_row=self.in_a_row + 1)
        return self._moved(1, rule.harder_ln)

    def _moved(self, direction: int, step_ln: float) -> Staircase:
        turned = self.direction == -direction
        turns = (*self.turns_ln, self.level_ln) if turned else self.turns_ln
        return Staircase(self.level_ln + step_ln, 0, direction, turns)


class WeightedPacer:
    """Up by the gate's step after its passes in a row, back by two after each failure.

    It is done when the last turns lie so close that their mean is known within 3 %.
    """

    def __init__(self, from_bpm: float, to_bpm: float, gate: Gate) -> None:
        self.pace: Pace = gating.start(from_bpm, to_bpm)
        self.done = ""
        self._gate = gate
        harder_ln = math.log1p(max(SMALLEST_STEP, gate.step_percent / 100))
        self._rule = balanced(TARGET_PASSES, harder_ln, gate.passes)
        self._stairs = Staircase(math.log(from_bpm))

    @property
    def estimate_bpm(self) -> float:
        """The tempo at which two takes of three pass: the mean of the last turns."""
        turns = self._stairs.turns_ln[-TURNS_FOR_ESTIMATE:]
        return math.exp(fmean(turns)) if turns else self.pace.tempo_bpm

    def after_take(self, clean: int, counted: int) -> None:
        """On, after a take; one in which nothing could be judged counts for nothing."""
        if not counted:
            return
        passed = self._gate.passed(clean / counted)
        at_goal = self.pace.tempo_bpm >= self.pace.to_bpm
        stairs = self._stairs.after(passed, self._rule)
        if stairs.in_a_row:
            self.pace = replace(self.pace, passes_in_a_row=stairs.in_a_row)
        elif passed and at_goal:
            self.pace = replace(self.pace, passes_in_a_row=self._gate.passes, reached=True)
        else:
            self.pace = self.pace.moved_to(math.exp(stairs.level_ln))
        self._stairs = replace(stairs, level_ln=math.log(self.pace.tempo_bpm))
        self.done = self._known() if passed else ""

    def step(self, direction: int) -> None:
        self.pace = gating.stepped(self.pace, self._gate, direction)
        self._stairs = replace(self._stairs, level_ln=math.log(self.pace.tempo_bpm), in_a_row=0)

    def _known(self) -> str:
        turns = self._stairs.turns_ln[-TURNS_FOR_ESTIMATE:]
        if len(turns) < TURNS_FOR_ESTIMATE or stdev(turns) / math.sqrt(len(turns)) > KNOWN_WITHIN:
            return ""
        return f"your tempo here has settled at about {self.estimate_bpm:.0f} clicks a minute"
