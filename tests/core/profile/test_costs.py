"""What the planner takes over of a player's own finger moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from random import Random

import pytest

from coach.core.fingering.ask import problem_of
from coach.core.fingering.candidates import candidates
from coach.core.fingering.moves import FingerMove, move_between
from coach.core.fingering.planner import plans
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import move_terms
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.passage import Passage, in_a_row
from coach.core.profile.costs import FAULT_UNITS, MS_A_UNIT, measured_costs, move_costs
from coach.core.profile.profile import Profile, profile_of
from coach.core.profile.tallies import move_name
from coach.core.profile.tally import Tally
from coach.files.configs import load_instrument
from coach.files.fingering import load_weights
from tests.core.profile.making import DAY, Player, exercise_of, takes_of

# Sounding pitches; the plan has B-flat 2+3 before 1, where 1 could stay down instead.
LINE = Passage(in_a_row((61, 63, 65, 61, 66, 68, 65, 66), Fraction(1, 4)))
TRILL = exercise_of(110.0, fingers=("T1", "T23"), pitches=(68, 66) * 4)


@cache
def horn() -> Instrument:
    return load_instrument("double-horn")


def crosses(move: FingerMove) -> bool:
    """Whether 1 and 3 are exchanged."""
    return {"1", "3"} <= set(move.ups + move.downs) and not (
        {"1", "3"} <= set(move.ups) or {"1", "3"} <= set(move.downs)
    )


def profile_after(takes: int, lag_ms: Callable[[FingerMove], float]) -> Profile:
    return profile_of(takes_of(Player(lag_ms=lag_ms), [TRILL] * takes, Random(21)), DAY)


def planned(profile: Profile | None) -> list[str]:
    weights = load_weights()
    if profile is not None:
        weights = replace(weights, measured=measured_costs(profile, weights, horn()))
    best = plans(problem_of(LINE, 110.0, horn(), weights))[0]
    return [candidate.fingering for candidate in best.chosen]


def crossings(fingerings: list[str]) -> int:
    moves = [move_between(*pair) for pair in pairwise(fingerings)]
    return sum(move is not None and crosses(move) for move in moves)


def slow(move: FingerMove) -> float:
    return 35.0 if crosses(move) else 4.0


def test_the_plan_changes_when_the_players_own_1_and_3_are_slow() -> None:
    assert crossings(planned(None)) == 1
    assert planned(profile_after(1, slow)) == planned(None)
    assert crossings(planned(profile_after(12, slow))) == 0


def test_the_plan_stays_where_they_are_as_quick_as_assumed() -> None:
    assert planned(profile_after(12, lambda move: 4.0)) == planned(None)


def lagging(notes: int, lag_ms: float = 20.0, clean: int | None = None) -> Profile:
    move = Tally("move", "1>3", DAY, notes, notes if clean is None else clean, notes,
                 notes * lag_ms, notes * lag_ms**2)  # fmt: skip
    return profile_of([move, Tally("articulation", "tongued", DAY, 10_000, 9_000)], DAY)


def test_costs_go_from_what_is_assumed_to_what_is_measured() -> None:
    weights = Weights()
    assumed = weights.finger["1"] + weights.finger["3"] + weights.exchange["13"]
    costs = [
        move_costs(lagging(notes), weights, horn())[FingerMove("1", "3")]
        for notes in (0, 1, 15, 30, 270, 10**6)
    ]
    assert [cost.measured for cost in costs] == pytest.approx(
        [0, 1 / 31, 1 / 3, 0.5, 0.9, 1], abs=1e-4
    )
    assert all(cost.assumed == pytest.approx(assumed) for cost in costs)
    assert costs[0].cost == pytest.approx(assumed)
    # 20 ms, and clean throughout where nine notes in ten are.
    assert costs[-1].cost == pytest.approx(20 / MS_A_UNIT - 0.1 * FAULT_UNITS, abs=0.01)


def test_faults_cost_more_and_nothing_costs_less_than_nothing() -> None:
    move, weights = FingerMove("1", "3"), Weights()
    clean, faulty = (
        move_costs(lagging(300, 5.0, count), weights, horn())[move].told for count in (270, 210)
    )
    assert faulty - clean == pytest.approx(0.2 * FAULT_UNITS, abs=0.1)
    assert move_costs(lagging(300, -20.0), weights, horn())[move].told == 0


def test_a_move_serves_wherever_the_instrument_has_it() -> None:
    found = measured_costs(lagging(60), Weights(), horn())
    assert {("T1", "T3"), ("1", "3"), ("12", "23"), ("T12", "T23")} <= set(found)
    assert all(move_between(*pair) == FingerMove("1", "3") for pair in found)
    assert move_name(FingerMove("1", "3")) == "1>3"


def test_a_slide_has_no_finger_moves() -> None:
    assert measured_costs(lagging(60), Weights(), load_instrument("trombone")) == {}


def test_the_planner_takes_over_as_much_as_is_measured() -> None:
    """Of a move that is a third measured the assumption keeps two thirds, the growing exchange
    too."""
    weights = Weights()
    found = {c.fingering: c for pitch in range(41, 70) for c in candidates(horn(), pitch)}
    before, after = found["1"], found["3"]
    gap_s = weights.hurried_gap_s
    spot = Spot(0, gap_s, gap_s, slurred=False, fresh=False)
    own = replace(weights, measured={(before.fingering, after.fingering): (9.0, 1 / 3)})
    plain, mixed = (move_terms(before, after, spot, w) for w in (weights, own))
    fingers = plain.terms.get("fingers", 0.0)
    assert mixed.terms.get("fingers", 0.0) == pytest.approx(fingers * 2 / 3)
    assert mixed.exchange == pytest.approx(plain.exchange * 2 / 3)
    assert mixed.terms["measured"] == pytest.approx(3.0)
