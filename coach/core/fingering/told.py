"""Plans as they are told: the JSON of `coach fingering`, and what the screen shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from coach.core.fingering.explain import are_close, reasons, summed
from coach.core.fingering.problem import FingeringPlan, Problem
from coach.core.fingering.weights import TERMS
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.pitch import name_of_midi


@dataclass(frozen=True, slots=True)
class ToldNote:
    """One note of a plan as told."""

    index: int
    written: str
    midi: int
    fingering: str
    side: str
    valves: str
    partial: int
    cents: int
    reason: str


@dataclass(frozen=True, slots=True)
class Told:
    """The plans of one passage at a tempo, cheapest first."""

    passage: Passage
    tempo_bpm: float
    instrument: Instrument
    problem: Problem
    plans: tuple[FingeringPlan, ...]

    def rows(self, plan: FingeringPlan) -> Iterator[ToldNote]:
        """The notes of a plan."""
        why = reasons(self.problem, plan)
        for k, (note, chosen) in enumerate(zip(self.passage.notes, plan.chosen, strict=True)):
            written = name_of_midi(note.pitch - self.instrument.transposition, self.passage.fifths)
            yield ToldNote(
                k,
                written,
                note.pitch,
                chosen.fingering,
                chosen.side,
                chosen.valves,
                chosen.partial,
                round(chosen.cents),
                why[k],
            )

    def totals(self, plan: FingeringPlan) -> dict[str, float]:
        """Cost by term, all terms, rounded."""
        found = summed(plan.terms)
        return {name: round(found.get(name, 0.0), 3) for name in TERMS}

    def unlike(self, plan: FingeringPlan) -> tuple[int, ...]:
        """The notes (from 0) that a plan fingers otherwise than the first plan."""
        pairs = enumerate(zip(plan.chosen, self.plans[0].chosen, strict=True))
        return tuple(k for k, (one, two) in pairs if one.fingering != two.fingering)

    @property
    def close(self) -> tuple[int, ...]:
        """The plans (from 1) that are too near the first to be ruled out on paper."""
        first = self.plans[0]
        return tuple(k for k, plan in enumerate(self.plans[1:], 1) if are_close(first, plan))

    def to_dict(self) -> dict[str, Any]:
        """What `coach fingering --json` writes."""
        return {
            "instrument": self.instrument.name,
            "plans": [
                {
                    "cost": round(plan.cost, 3),
                    "notes": [_as_dict(row) for row in self.rows(plan)],
                    "terms": self.totals(plan),
                }
                for plan in self.plans
            ],
        }


def _as_dict(row: ToldNote) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ToldNote.__slots__}
