"""The planner's question and its answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.fingering.candidates import Candidate
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import Terms, Usual, cost_of, total
from coach.core.fingering.weights import Weights


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be fingered: for each spot its candidates, one at least, and the usual ones."""

    spots: tuple[Spot, ...]
    choices: tuple[tuple[Candidate, ...], ...]
    usual: tuple[Usual, ...]
    weights: Weights
    slide: bool = False

    def costs(self, chosen: Sequence[Candidate]) -> tuple[Terms, ...]:
        """The terms of a plan, note by note."""
        return cost_of(self.spots, chosen, self.usual, self.weights, slide=self.slide)


@dataclass(frozen=True, slots=True)
class FingeringPlan:
    """One fingering of the whole passage, with its terms note by note."""

    chosen: tuple[Candidate, ...]
    terms: tuple[Terms, ...]

    @property
    def cost(self) -> float:
        return total(self.terms)
