"""The gate's own steps: up after enough passes in a row, back after enough failures."""

from __future__ import annotations

from coach.core import gate as gating
from coach.core.gate import Gate, Pace


class StepsPacer:
    """`core.gate` as a pacer.  It goes on until the goal is reached."""

    done = ""

    def __init__(self, from_bpm: float, to_bpm: float, gate: Gate) -> None:
        self.pace: Pace = gating.start(from_bpm, to_bpm)
        self._gate = gate

    def after_take(self, clean: int, counted: int) -> None:
        """On, after a take; one in which nothing could be judged counts for nothing."""
        if counted:
            self.pace = gating.after_take(self.pace, self._gate, clean / counted)

    def step(self, direction: int) -> None:
        self.pace = gating.stepped(self.pace, self._gate, direction)
