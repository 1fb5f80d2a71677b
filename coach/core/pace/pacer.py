"""What moves the tempo from take to take, and the choice among the ways to do it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from coach.core.gate import Gate, Pace
from coach.core.pace.ceiling import CeilingPacer
from coach.core.pace.prior import EarlierTake
from coach.core.pace.steps import StepsPacer
from coach.core.pace.weighted import WeightedPacer


class Pacer(Protocol):
    """Says at which tempo the next take is played, and when it is time to stop."""

    @property
    def pace(self) -> Pace:
        """The tempo of the next take, and where it stands on the way to the goal."""
        ...

    @property
    def done(self) -> str:
        """Why it is time to stop, in words for the player; empty while it goes on.  Reaching the
        goal is told by `pace.reached` instead."""
        ...

    def after_take(self, clean: int, counted: int) -> None:
        """A take at `pace.tempo_bpm` was played: `clean` of `counted` notes (unsure left out)."""
        ...

    def step(self, direction: int) -> None:
        """The player wants it faster (+1) or slower (-1)."""
        ...


def make_pacer(
    from_bpm: float, to_bpm: float, gate: Gate, earlier: Sequence[EarlierTake] = ()
) -> Pacer:
    """The pacer of a gate's `rule`; `earlier` takes on the passage serve only the ceiling."""
    if gate.rule == "ceiling":
        return CeilingPacer(from_bpm, to_bpm, gate, earlier)
    if gate.rule == "weighted":
        return WeightedPacer(from_bpm, to_bpm, gate)
    return StepsPacer(from_bpm, to_bpm, gate)
