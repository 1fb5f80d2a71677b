"""The tempo from what is believed about the player's ceiling, with every note of every take.

A take that just failed and one that broke down both fail the gate, but tell very different things;
so do 29 and 32 clean notes of 32.  The next tempo is the highest at which a take is still likely to
pass.  The session opens below the ceiling and ends on a success.

Between takes the ceiling moves: up as the passage is learned, down as lips tire, by amounts nobody
knows.  The figures are assumptions, no source; the spread of the step is what keeps the estimate
from trusting old takes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from coach.core import gate as gating
from coach.core.gate import Gate, Pace
from coach.core.pace.belief import Belief
from coach.core.pace.prior import EarlierTake, belief_from

NOTES_BEFORE_FIRST_TAKE = 32
GOOD_CHANCE, OPENING_CHANCE, CLOSING_CHANCE = 0.6, 0.85, 0.93
# A tempo change under 3 % can't be felt (Drake and Botte 1993, Percept. Psychophys. 54), the best
# ears notice half of that.  Nobody is thrown more than a quarter of the tempo forward at once.
SMALLEST_STEP, LONGEST_STEP = 0.015, 0.25
LEARNED_LN, MOVED_SD_LN = 0.002, 0.005
# The first 1,000 notes of a session cost 1.2 % of tempo, 2,000 cost 5 %.
TIRED_LN, TIRED_NOTES = 0.012, 1000
KNOWN_WITHIN_PERCENT, FEWEST_TAKES = 3.0, 8
FEWEST_TAKES_TIRED = 4
MOST_CLOSING_TAKES = 3


class CeilingPacer:
    """A posterior over the ceiling, updated by every take.

    `earlier` are takes of earlier sessions: with them the session opens where a take will very
    likely pass, without them at `from_bpm`.  `endless`: it never says that it is time to stop.
    """

    def __init__(
        self,
        from_bpm: float,
        to_bpm: float,
        gate: Gate,
        earlier: Sequence[EarlierTake] = (),
        *,
        endless: bool = False,
    ) -> None:
        self.belief: Belief = belief_from(from_bpm, to_bpm, gate.threshold, earlier)
        self.pace: Pace = gating.start(from_bpm, to_bpm)
        self.done = ""
        self._gate, self._endless = gate, endless
        self._notes, self._takes, self._played_notes = NOTES_BEFORE_FIRST_TAKE, 0, 0
        self._surely_bpm = 0.0
        self._closing, self._closing_takes = "", 0
        if earlier:
            self.pace = self.pace.moved_to(self._highest(OPENING_CHANCE))

    @property
    def estimate_bpm(self) -> float:
        """Where the ceiling is thought to be now."""
        return self.belief.estimate_bpm

    @property
    def sd_percent(self) -> float:
        """How far it may be off (standard deviation, per cent of tempo)."""
        return self.belief.sd_percent

    def interval_bpm(self, share: float = 0.9) -> tuple[float, float]:
        """Where the ceiling lies with this probability."""
        return self.belief.interval_bpm(share)

    def chance(self, tempo_bpm: float) -> float:
        """The chance that a take like the last one passes at a tempo."""
        return self.belief.chance(tempo_bpm, self._need, self._notes)

    def step(self, direction: int) -> None:
        self.pace = gating.stepped(self.pace, self._gate, direction)

    def after_take(self, clean: int, counted: int) -> None:
        """On, after a take; one in which nothing could be judged counts for nothing."""
        if not counted:
            return
        self._learn(clean, counted)
        passed = self._gate.passed(clean / counted)
        self.pace = _counted(self.pace, passed)
        if passed and self._at_goal() and self.pace.passes_in_a_row >= self._gate.passes:
            self.pace = replace(self.pace, reached=True)
        elif self._closing:
            self._close(passed)
        elif not self._endless and (why := self._tired() or self._known()):
            self._closing = why
            self._go_to(min(self.pace.tempo_bpm, self._highest(CLOSING_CHANCE)))
        else:
            self._go_to(self._next_bpm(passed))

    # -- what is believed -----------------------------------------------------------------------

    @property
    def _need(self) -> int:
        return self._gate.needed(self._notes)

    def _highest(self, chance: float) -> float:
        return self.belief.highest_bpm(chance, self._need, self._notes)

    def _learn(self, clean: int, counted: int) -> None:
        """Bayes' rule for the take, then the drift until the next."""
        self._notes = counted
        before = self._played_notes / TIRED_NOTES
        self._played_notes += counted
        self._takes += 1
        tired_ln = TIRED_LN * ((self._played_notes / TIRED_NOTES) ** 2 - before**2)
        belief = self.belief.after_take(self.pace.tempo_bpm, clean, counted)
        self.belief = belief.drifted(LEARNED_LN - tired_ln, MOVED_SD_LN)

    # -- where to go ----------------------------------------------------------------------------

    def _next_bpm(self, passed: bool) -> float:
        """The highest tempo with a good chance; never faster after a failure nor slower after a
        pass, and the same tempo again until it was passed as often as the gate asks."""
        now, best = self.pace.tempo_bpm, self._highest(GOOD_CHANCE)
        if not passed:
            return min(now, best)
        if self.pace.passes_in_a_row < self._gate.passes:
            return now
        return max(now, min(best, now * (1 + LONGEST_STEP), self.pace.to_bpm))

    def _go_to(self, tempo_bpm: float) -> None:
        """To a tempo, if the step is one that can be felt; to the goal in any case."""
        step = abs(math.log(tempo_bpm / self.pace.tempo_bpm))
        if step >= SMALLEST_STEP or tempo_bpm >= self.pace.to_bpm > self.pace.tempo_bpm:
            self.pace = self.pace.moved_to(tempo_bpm)

    def _at_goal(self) -> bool:
        return self.pace.tempo_bpm >= self.pace.to_bpm

    # -- when to stop ---------------------------------------------------------------------------

    def _known(self) -> str:
        if self._takes < FEWEST_TAKES or self.sd_percent > KNOWN_WITHIN_PERCENT:
            return ""
        low, high = self.interval_bpm()
        return (
            f"your clean tempo is known: about {self.estimate_bpm:.0f} clicks a minute "
            f"({low:.0f} to {high:.0f})"
        )

    def _tired(self) -> str:
        """The ceiling is now almost surely lower than it almost surely was before."""
        surely, at_most = self.interval_bpm(0.8)
        self._surely_bpm = max(self._surely_bpm, surely)
        if self._takes < FEWEST_TAKES_TIRED or at_most >= self._surely_bpm:
            return ""
        return (
            f"your clean tempo has come down from {self._surely_bpm:.0f} or more "
            f"to about {self.estimate_bpm:.0f}: time for a rest"
        )

    def _close(self, passed: bool) -> None:
        """The last take was meant to be a success; an easier one if it was not, three at most."""
        self._closing_takes += 1
        if passed or self._closing_takes >= MOST_CLOSING_TAKES:
            self.done = self._closing
            return
        easier = self.pace.tempo_bpm / (1 + self._gate.step_percent / 100)
        self._go_to(min(easier, self._highest(CLOSING_CHANCE)))


def _counted(pace: Pace, passed: bool) -> Pace:
    if passed:
        return replace(pace, passes_in_a_row=pace.passes_in_a_row + 1, failures_in_a_row=0)
    return replace(pace, passes_in_a_row=0, failures_in_a_row=pace.failures_in_a_row + 1)
