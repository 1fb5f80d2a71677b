"""What the player's own finger moves cost the planner, in place of what it assumes.

The cost of a move at hurry 1 is (1 - m) times the planner's assumption plus m times what was
measured, where m grows with the notes on which the lag of this move was heard: a third after 15,
half after 30, nine in ten after 270 (`NOTES_FOR_HALF`; older notes count in part).  What was
measured is the lag in units of `MS_A_UNIT`, and the faults beyond the player's usual share.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from coach.core.fingering.candidates import Candidate, candidates
from coach.core.fingering.moves import FingerMove, move_between
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import move_terms
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.profile.profile import Profile

# Design judgements.  With 5 ms a unit, exchanges in configs/fingering.toml (3 to 4 units with their
# fingers) stand for 15 to 19 ms, a single finger for 3 ms.  One fault more in ten notes costs one
# unit: with the unit, as much as 5 ms.
MS_A_UNIT = 5.0
FAULT_UNITS = 10.0
# Two or three takes full of a move are not yet half of it: notes of one take are alike.
NOTES_FOR_HALF = 30.0


@dataclass(frozen=True, slots=True)
class MoveCost:
    """In the planner's unit: what it would assume, what the takes say, and the mixture that
    `measured` (0 to 1) makes of them."""

    assumed: float
    told: float
    measured: float

    @property
    def cost(self) -> float:
        return (1 - self.measured) * self.assumed + self.measured * self.told

    def to_dict(self) -> dict[str, Any]:
        return {
            "assumed": round(self.assumed, 3),
            "told": round(self.told, 3),
            "measured": round(self.measured, 3),
            "cost": round(self.cost, 3),
        }


def move_costs(
    profile: Profile, weights: Weights, instrument: Instrument
) -> dict[FingerMove, MoveCost]:
    """Of every move that was played and that the instrument has; none for a slide."""
    pairs = _pairs(profile, instrument)
    return {move: _cost(profile, move, weights, *found[0]) for move, found in pairs.items()}


def measured_costs(
    profile: Profile, weights: Weights, instrument: Instrument
) -> dict[tuple[str, str], tuple[float, float]]:
    """For `Weights.measured`: by both fingerings what the takes say and how much it counts, of
    every move that was played, wherever on the instrument it comes."""
    costs = {
        (before.fingering, after.fingering): _cost(profile, move, weights, before, after)
        for move, found in _pairs(profile, instrument).items()
        for before, after in found
    }
    return {pair: (cost.told, cost.measured) for pair, cost in costs.items() if cost.measured}


def _pairs(
    profile: Profile, instrument: Instrument
) -> dict[FingerMove, list[tuple[Candidate, Candidate]]]:
    """Where each move that was played lies between two fingerings of the instrument."""
    found: dict[FingerMove, list[tuple[Candidate, Candidate]]] = {}
    if instrument.slide:
        return found
    for before, after in product(_fingerings(instrument), repeat=2):
        move = move_between(before.fingering, after.fingering)
        if move is not None and move in profile.moves:
            found.setdefault(move, []).append((before, after))
    return found


def _fingerings(instrument: Instrument) -> list[Candidate]:
    """One note of each fingering, open and stopped."""
    found: dict[str, Candidate] = {}
    for pitch in range(instrument.lowest, instrument.highest + 1):
        for stopped in (False, True):
            for candidate in candidates(instrument, pitch, stopped=stopped):
                found.setdefault(candidate.fingering, candidate)
    return list(found.values())


def _cost(
    profile: Profile, move: FingerMove, weights: Weights, before: Candidate, after: Candidate
) -> MoveCost:
    seen = profile.move(move)
    told = max(0.0, seen.value.value) / MS_A_UNIT
    told += FAULT_UNITS * (profile.clean.value - seen.clean.value)
    measured = seen.value.count / (seen.value.count + NOTES_FOR_HALF)
    return MoveCost(_assumed(weights, before, after), max(0.0, told), measured)


def _assumed(weights: Weights, before: Candidate, after: Candidate) -> float:
    """What the planner assumes of the fingers at hurry 1, as the first exchange of a phrase."""
    gap_s = weights.hurried_gap_s
    spot = Spot(0, gap_s, gap_s, slurred=False, fresh=False)
    move = move_terms(before, after, spot, replace(weights, measured={}))
    return move.terms.get("fingers", 0.0) + move.exchange
