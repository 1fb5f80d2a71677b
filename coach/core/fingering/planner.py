"""The cheapest fingering of a passage, exactly, and others that differ from it."""

from __future__ import annotations

from coach.core.fingering.problem import FingeringPlan, Problem
from coach.core.fingering.search import cheapest

# One note in three: a plan that differs in a note here and there teaches nothing new.
NOTES_FOR_EACH_APART = 3
MOST_NOTES_APART = 5


def plans(problem: Problem, count: int = 1) -> tuple[FingeringPlan, ...]:
    """The cheapest plan, and up to `count` - 1 more, each the cheapest of those that differ from
    all before it in at least `apart(problem)` notes; cheapest first."""
    found: list[FingeringPlan] = []
    while len(found) < count:
        chosen = cheapest(problem, [plan.chosen for plan in found], apart(problem))
        if chosen is None:
            break
        found.append(FingeringPlan(chosen, problem.costs(chosen)))
    return tuple(found)


def apart(problem: Problem) -> int:
    """In how many notes two plans must differ to be offered beside each other."""
    return max(1, min(MOST_NOTES_APART, len(problem.spots) // NOTES_FOR_EACH_APART))
