"""The fingering planner beside a shortest-path solver: `python -m tests.benchmarks.fingering`.

An invented line of fast notes for double horn, with and without figures that return.  Peer:
scipy.sparse.csgraph (Dijkstra, and Bellman-Ford where the graph is small) on the layered graph of
the same costs: a node is a fingering of a note, the count of exchanges in the phrase and, where
figures return, the valves held for comparison.  Printed: seconds to build the costs and to search,
the ratio of the searches, and whether the cheapest costs agree.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from random import Random

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import bellman_ford, dijkstra

from coach.core.fingering.ask import problem_of
from coach.core.fingering.planner import plans
from coach.core.fingering.problem import Problem
from coach.core.fingering.search import held_after
from coach.core.fingering.terms import (
    MOST_EXCHANGES,
    exchange_growth,
    move_terms,
    note_terms,
    shape_weight,
)
from coach.core.passage import Passage, in_a_row
from coach.files.configs import load_instrument
from coach.files.fingering import load_weights

TEMPO_BPM = 126
# Bellman-Ford goes over all edges once for each node: for small graphs only.
MOST_NODES_BELLMAN_FORD = 3000
State = tuple[int, int, tuple[str, ...]]


def wandering(count: int, rng: Random) -> list[int]:
    """Sounding pitches that step about in the middle of the horn."""
    pitches = [60]
    while len(pitches) < count:
        pitches.append(min(72, max(48, pitches[-1] + rng.choice([-4, -3, -2, -1, 1, 2, 3, 4]))))
    return pitches


def with_figures(count: int, rng: Random) -> list[int]:
    """Figures of four notes that come back a second or a fourth higher."""
    pitches: list[int] = []
    while len(pitches) < count:
        figure = wandering(4, rng)
        move = rng.choice([2, 5])
        pitches += [pitch - 4 for pitch in figure] + [pitch - 4 + move for pitch in figure]
    return pitches[:count]


def problem_for(pitches: list[int]) -> Problem:
    passage = Passage(in_a_row(pitches, Fraction(1, 4)))
    return problem_of(passage, TEMPO_BPM, load_instrument("double-horn"), load_weights())


def graph_of(problem: Problem) -> tuple[csr_array, int]:
    """The layered graph; the source is node 0, the goal the last one.

    All weights get 1 more (a graph has no edges of weight 0): one a note, and one to the goal.
    """
    rows, columns, costs = [], [], []
    held = held_after(problem.spots)
    before: dict[State, int] = {}
    nodes = 1
    for place in range(len(problem.spots)):
        here: dict[State, int] = {}
        for source, state, cost in _edges(problem, held, place, before):
            if state not in here:
                here[state] = nodes
                nodes += 1
            rows.append(source)
            columns.append(here[state])
            costs.append(cost + 1)
        before = here
    rows += before.values()
    columns += [nodes] * len(before)
    costs += [1.0] * len(before)
    ends = np.array(rows), np.array(columns)
    graph = csr_array((np.array(costs), ends), shape=(nodes + 1, nodes + 1))
    # Else two edges joined the same nodes, and their costs were added.
    assert graph.nnz == len(costs)
    return graph, nodes


def _edges(
    problem: Problem, held: list[tuple[int, ...]], place: int, before: dict[State, int]
) -> list[tuple[int, State, float]]:
    """Source node, state reached and cost of every way to go on."""
    spot, weights = problem.spots[place], problem.weights
    edges = []
    for k, choice in enumerate(problem.choices[place]):
        cost = sum(note_terms(choice, spot, problem.usual[place], weights).values())
        if not place:
            edges.append((0, (k, 0, _held(held, 0, choice.valves, (), ())), cost))
            continue
        moves = [move_terms(b, choice, spot, weights) for b in problem.choices[place - 1]]
        for (last, count, valves), node in before.items():
            move = moves[last]
            earlier = 0 if spot.fresh else count
            total = cost + move.plain + move.exchange * exchange_growth(earlier, weights)
            if spot.image is not None:
                image = valves[held[place - 1].index(spot.image)]
                total += shape_weight(spot, weights) if image != choice.valves else 0.0
            count_now = min(MOST_EXCHANGES, earlier + move.exchanges)
            now = _held(held, place, choice.valves, held[place - 1], valves)
            edges.append((node, (k, count_now, now), total))
    return edges


def _held(
    held: list[tuple[int, ...]],
    place: int,
    valves: str,
    places: tuple[int, ...],
    past: tuple[str, ...],
) -> tuple[str, ...]:
    return tuple(valves if at == place else past[places.index(at)] for at in held[place])


def timed(call: Callable[[], float]) -> tuple[float, float]:
    """The result and the least of three times in seconds."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        result = call()
        times.append(time.perf_counter() - start)
    return result, min(times)


def compare(name: str, pitches: list[int]) -> None:
    problem = problem_for(pitches)
    cost, ours_s = timed(lambda: plans(problem)[0].cost)
    start = time.perf_counter()
    graph, goal = graph_of(problem)
    build_s = time.perf_counter() - start
    extra = len(pitches) + 1
    peer, peer_s = timed(lambda: float(dijkstra(graph, indices=0)[goal]) - extra)
    print(
        f"{name}, {len(pitches)} notes: {ours_s:.3f} s with all costs; dijkstra {peer_s:.3f} s and "
        f"{build_s:.3f} s to build {goal + 1} nodes, {graph.nnz} edges; "
        f"ours / dijkstra {ours_s / peer_s:.1f}, ours / whole {ours_s / (peer_s + build_s):.2f}; "
        f"cost {cost:.3f}, {'the same' if abs(cost - peer) < 1e-6 * cost else f'peer {peer:.3f}'}"
    )
    if goal < MOST_NODES_BELLMAN_FORD:
        other, other_s = timed(lambda: float(bellman_ford(graph, indices=0)[goal]) - extra)
        same = "the same" if abs(cost - other) < 1e-6 * cost else f"{other:.3f}"
        print(f"    bellman-ford {other_s:.3f} s, ratio {ours_s / other_s:.2f}; cost {same}")


def several(pitches: list[int]) -> None:
    problem = problem_for(pitches)
    for count in (2, 3):
        _, seconds = timed(lambda count=count: plans(problem, count)[-1].cost)
        print(f"{count} plans that differ, {len(pitches)} notes: {seconds:.3f} s")


def main() -> None:
    for count in (100, 1000, 10_000):
        compare("no figures", wandering(count, Random(3)))
    for count in (100, 1000):
        compare("figures of four", with_figures(count, Random(4)))
    # The peer's graph of this one would have 27 million edges.
    problem = problem_for(with_figures(10_000, Random(4)))
    _, seconds = timed(lambda: plans(problem)[0].cost)
    print(f"figures of four, 10000 notes: {seconds:.3f} s")
    for count in (100, 1000):
        several(wandering(count, Random(3)))


if __name__ == "__main__":
    main()
