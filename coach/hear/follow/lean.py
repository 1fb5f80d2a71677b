"""Where the next note is to be looked for: how far the player is from the click, and how it moves.

A Kalman filter over the deviations of the notes that were heard, with the deviation and its growth
(a share of the score's time) as its state: gains are high while little is known, so that a player
who is thirty per cent slower than the click is followed from the first notes on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from coach.hear.follow.frames import RATE

# Standard deviations: of a heard attack about the player's own line, of the growth at first, of
# what the line itself does from note to note.
HEARD_SD_FRAMES = 0.02 * RATE
GROWTH_SD = 0.2
JITTER_SD_FRAMES, GROWTH_WALK = 0.008 * RATE, 0.008
LEAST_TRUST = 0.02
FASTEST_DRIFT = 0.7
FORGET_SPEED = 0.85


@dataclass(frozen=True, slots=True)
class Lean:
    """Deviation in frames at a due frame, and its growth a frame of the score, with their
    variances and covariance; notes `missed` since the last one heard."""

    due_frame: float
    frames: float = 0.0
    growth: float = 0.0
    missed: int = 0
    known: bool = False
    frames_var: float = HEARD_SD_FRAMES**2
    joint_var: float = 0.0
    growth_var: float = GROWTH_SD**2

    def at(self, due_frame: float) -> float:
        """The deviation to expect at a due frame."""
        return self.frames + self.growth * (due_frame - self.due_frame)

    def sd_at(self, due_frame: float) -> float:
        """How unsure that is, in frames."""
        return math.sqrt(self._var_at(due_frame - self.due_frame))

    def _var_at(self, passed: float) -> float:
        return self.frames_var + 2 * passed * self.joint_var + passed**2 * self.growth_var

    def heard(self, due_frame: float, deviation: float, trust: float) -> Lean:
        """After a note; `trust` (0 to 1) is how sure it is."""
        if not self.known:
            return Lean(due_frame, deviation, known=True)
        passed = max(1.0, due_frame - self.due_frame)
        var = self._var_at(passed) + JITTER_SD_FRAMES**2
        joint = self.joint_var + passed * self.growth_var
        noise = (HEARD_SD_FRAMES / max(LEAST_TRUST, trust)) ** 2
        gain, growth_gain = var / (var + noise), joint / (var + noise)
        wrong = deviation - self.at(due_frame)
        growth = max(-FASTEST_DRIFT, min(FASTEST_DRIFT, self.growth + growth_gain * wrong))
        return Lean(
            due_frame,
            self.at(due_frame) + gain * wrong,
            growth,
            0,
            known=True,
            frames_var=var * (1 - gain),
            joint_var=joint * (1 - gain),
            growth_var=self.growth_var + GROWTH_WALK**2 - growth_gain * joint,
        )

    def not_heard(self) -> Lean:
        """After a note that was missed: stay, trust the speed less."""
        return replace(self, growth=self.growth * FORGET_SPEED, missed=self.missed + 1)
