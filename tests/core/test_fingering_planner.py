"""The planner against every plan there is: brute force over short passages is the outside check."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from functools import cache
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.fingering.ask import NoFingeringError, fixed_plan, problem_of
from coach.core.fingering.candidates import candidates
from coach.core.fingering.planner import apart, plans
from coach.core.fingering.problem import Problem
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import cost_of, total
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument, Tube, Valve
from coach.core.passage import Passage, in_a_row
from coach.files.configs import load_instrument

REAL = ("double-horn", "triple-horn", "trumpet", "euphonium", "trombone", "tuba")
# At most so many plans of one passage are tried.
MOST_PLANS = 3000


@cache
def instrument_of(name: str) -> Instrument:
    return load_instrument(name)


def invented(rng: Random) -> Instrument:
    """Tubes, thumbs and valves as nobody builds them."""
    levers = ["", "T", "H"][: rng.randint(1, 3)]
    tubes = tuple(Tube(f"side {k}", 30 + rng.randint(0, 8), name) for k, name in enumerate(levers))
    valves = tuple(Valve(str(k + 1), rng.randint(1, 5)) for k in range(rng.randint(2, 4)))
    names = "".join(valve.name for valve in valves)
    together = ["".join(c) for n in (1, 2, 3) for c in itertools.combinations(names, n)]
    return Instrument("invented", "invented horn", 0, 20, 90, tubes, valves, ("0", *together))


def random_weights(rng: Random) -> Weights:
    """Costs of any proportion: the proof must not lean on the figures of the configs."""
    figures = {
        name: rng.choice([0.0, rng.uniform(0, 4)])
        for name in ("growth", "same_shape", "custom", "relearn", "seventh", "side_change",
                     "other_exchange", "length_added", "partials_slurred", "slide", "clarity")
    }  # fmt: skip
    exchange = {pair: rng.uniform(0, 4) for pair in ("12", "13", "23")}
    return replace(Weights(), exchange=exchange, **figures)


def playable(instrument: Instrument) -> list[int]:
    everything = range(max(20, instrument.lowest), min(90, instrument.highest) + 1)
    return [pitch for pitch in everything if candidates(instrument, pitch)]


def passage_of(rng: Random, pitches: list[int]) -> Passage:
    """Notes of mixed lengths, with rests (some begin phrases) and slurs."""
    row = [pitch for pitch in pitches for pitch in rng.choice([[pitch]] * 5 + [[None, pitch]])]
    notes = in_a_row(row, Fraction(1, rng.choice([2, 4, 8])))
    return Passage(tuple(replace(note, slurred=rng.random() < 0.4) for note in notes))


def narrowed(problem: Problem, rng: Random) -> Problem:
    """With few choices at each note, so that every plan can be tried."""
    each = max(1, int(MOST_PLANS ** (1 / len(problem.spots))))
    choices = tuple(tuple(rng.sample(choice, min(each, len(choice)))) for choice in problem.choices)
    return replace(problem, choices=choices)


def invented_problem(seed: int, *, figures: bool) -> Problem:
    """A short passage on a real or invented instrument under invented costs."""
    rng = Random(seed)
    real = rng.random() < 0.5
    instrument = instrument_of(rng.choice(REAL)) if real else invented(rng)
    weights = random_weights(rng) if rng.random() < 0.7 else Weights()
    able = playable(instrument)
    pitches = [rng.choice(able) for _ in range(rng.randint(1, 7))]
    if figures:
        pitches = returning(rng, able)
    passage = passage_of(rng, pitches)
    if figures:
        passage = Passage(in_a_row(pitches, Fraction(1, 4)))
    problem = narrowed(problem_of(passage, rng.choice([60, 120, 200]), instrument, weights), rng)
    return pinned_and_known(problem, rng)


def returning(rng: Random, able: list[int]) -> list[int]:
    """A figure of three notes that comes back once or twice, somewhere else."""
    while True:
        shape = [0, rng.randint(-4, 4), rng.randint(-4, 4)]
        starts = [rng.choice(able) for _ in range(rng.randint(2, 3))]
        pitches = [start + step for start in starts for step in shape]
        if all(pitch in able for pitch in pitches):
            return pitches


def pinned_and_known(problem: Problem, rng: Random) -> Problem:
    spots, choices = list(problem.spots), list(problem.choices)
    for k, choice in enumerate(problem.choices):
        one = rng.choice(choice)
        if rng.random() < 0.15:
            spots[k] = replace(spots[k], pinned=one.fingering)
            choices[k] = (one,)
        elif rng.random() < 0.3:
            spots[k] = replace(spots[k], known=one.fingering)
    return replace(problem, spots=tuple(spots), choices=tuple(choices))


def with_any_images(problem: Problem, rng: Random) -> Problem:
    """Notes compared with any earlier one, some of them with the same."""
    spots = [
        replace(spot, image=rng.choice([None, *range(k)])) for k, spot in enumerate(problem.spots)
    ]
    return replace(problem, spots=tuple(spots))


def every_plan(problem: Problem) -> list[tuple[float, tuple[str, ...]]]:
    """Cost and fingerings of all plans."""
    return [
        (total(problem.costs(chosen)), tuple(c.fingering for c in chosen))
        for chosen in itertools.product(*problem.choices)
    ]


def check_all(problem: Problem, count: int = 3) -> None:
    everything = every_plan(problem)
    found = plans(problem, count)
    earlier: list[tuple[str, ...]] = []
    for plan in found:
        allowed = [cost for cost, names in everything if far(names, earlier, apart(problem))]
        assert plan.cost == pytest.approx(min(allowed))
        names = tuple(c.fingering for c in plan.chosen)
        assert far(names, earlier, apart(problem))
        earlier.append(names)
    if len(found) < count:
        assert not [names for _, names in everything if far(names, earlier, apart(problem))]


def far(names: tuple[str, ...], earlier: list[tuple[str, ...]], least: int) -> bool:
    return all(sum(a != b for a, b in zip(names, o, strict=True)) >= least for o in earlier)


@pytest.mark.parametrize("seed", range(16))
def test_no_plan_is_cheaper(seed):
    check_all(invented_problem(seed, figures=False))


@pytest.mark.parametrize("seed", range(100, 112))
def test_no_plan_is_cheaper_where_figures_return(seed):
    problem = invented_problem(seed, figures=True)
    assert len(problem.spots) >= 6
    check_all(problem)


@pytest.mark.parametrize("seed", range(200, 212))
def test_no_plan_is_cheaper_whatever_is_compared(seed):
    rng = Random(seed)
    check_all(with_any_images(invented_problem(seed, figures=False), rng))


def test_figures_are_in_the_problems():
    """Else the tests above would prove nothing about them."""
    problems = [invented_problem(seed, figures=True) for seed in range(100, 112)]
    images = [sum(s.image is not None for s in problem.spots) for problem in problems]
    assert sum(count > 0 for count in images) >= 8


def test_later_plans_differ_in_more_than_one_note():
    pitches = [53, 55, 57, 58, 60, 58, 57, 55, 57, 58, 60, 62]
    passage = Passage(in_a_row(pitches, Fraction(1, 4)))
    problem = problem_of(passage, 120, instrument_of("double-horn"), Weights())
    small = replace(problem, choices=tuple(choice[:2] for choice in problem.choices))
    assert apart(small) == 4
    check_all(small, 4)


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.data())
def test_no_random_way_is_cheaper(seed, data):
    rng = Random(seed)
    instrument = instrument_of(rng.choice(REAL))
    able = playable(instrument)
    pitches = data.draw(st.lists(st.sampled_from(able), min_size=2, max_size=40))
    problem = problem_of(passage_of(rng, pitches), 120, instrument, Weights())
    best = plans(problem)[0]
    chosen = [data.draw(st.sampled_from(choice)) for choice in problem.choices]
    assert best.cost <= total(problem.costs(chosen)) + 1e-9


@settings(max_examples=40)
@given(st.integers(0, 10**6))
def test_no_change_of_one_note_is_cheaper(seed):
    """Near the best plan a mistake would show soonest."""
    rng = Random(seed)
    instrument = instrument_of(rng.choice(REAL))
    figure = returning(rng, playable(instrument))
    passage = Passage(in_a_row(figure * 3, Fraction(1, 4)))
    problem = problem_of(passage, 120, instrument, Weights())
    best = plans(problem)[0]
    for k, choice in enumerate(problem.choices):
        for other in choice:
            swapped = [*best.chosen[:k], other, *best.chosen[k + 1 :]]
            assert best.cost <= total(problem.costs(swapped)) + 1e-9


def test_the_cost_is_the_sum_of_its_terms():
    problem = invented_problem(7, figures=True)
    plan = plans(problem)[0]
    terms = cost_of(problem.spots, plan.chosen, problem.usual, problem.weights)
    assert plan.terms == terms
    assert plan.cost == pytest.approx(sum(cost for each in terms for cost in each.values()))


def test_the_same_question_has_the_same_answer():
    first, second = (
        plans(problem_of(passage, 132, instrument_of("double-horn"), Weights()), 3)
        for passage in [Passage(in_a_row([53, 57, 60, 63, 66, 65, 61, 58] * 4, Fraction(1, 4)))] * 2
    )
    assert [plan.chosen for plan in first] == [plan.chosen for plan in second]
    assert [plan.cost for plan in first] == sorted(plan.cost for plan in first)


def test_exchanges_grow_dearer_in_a_phrase_and_begin_anew_after_a_rest():
    """Written B4 and Bb4 to and fro: each exchange costs more than the one before."""
    row = [64, 63, 64, 63, None, None, 64, 63]
    passage = Passage(in_a_row(row, Fraction(1, 4)))
    problem = problem_of(passage, 90, instrument_of("double-horn"), Weights())
    names = ["T2", "T1", "T2", "T1", "T2", "T1"]
    terms = fixed_plan(problem, instrument_of("double-horn"), names).terms
    paid = [each.get("exchanges", 0.0) for each in terms]
    assert 0 < paid[1] < paid[2] < paid[3]
    assert paid[5] == pytest.approx(paid[1])


def test_pinned_notes_stay_as_marked():
    notes = in_a_row([60, 61, 60, 61], Fraction(1, 4))
    marked = (notes[0], replace(notes[1], fingering="T23"), *notes[2:])
    problem = problem_of(Passage(marked), 120, instrument_of("double-horn"), Weights())
    for plan in plans(problem, 4):
        assert plan.chosen[1].fingering == "T23"


def test_a_note_that_nothing_gives_is_told_by_its_place():
    passage = Passage(in_a_row([60, 20], Fraction(1)))
    with pytest.raises(NoFingeringError) as caught:
        problem_of(passage, 100, instrument_of("double-horn"), Weights())
    assert (caught.value.index, caught.value.pitch) == (1, 20)


def test_nothing_has_one_empty_plan():
    problem = Problem((), (), (), Weights())
    found = plans(problem, 3)
    assert [(plan.chosen, plan.cost) for plan in found] == [((), 0)]


def test_a_spot_alone():
    spot = Spot(60, float("inf"), 0.5, False, True)
    problem = Problem(
        (spot,), (candidates(instrument_of("double-horn"), 60),), (("0",),), Weights()
    )
    check_all(problem)
