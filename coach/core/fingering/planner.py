"""The cheapest fingering of a passage, exactly, and others that differ from it.

Dynamic programming over the notes.  For each fingering of a note are kept all ways to get there
that could still be the best: one way is dropped only if another is as good in the count of
exchanges and so much cheaper that no later comparison of figures can make up for it.  So the plan
found is the least of all (tests/core prove it by trying every plan of short passages).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.fingering.candidates import Candidate
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import (
    MOST_EXCHANGES,
    Move,
    Terms,
    cost_of,
    move_terms,
    note_terms,
    shape_cost,
    total,
)
from coach.core.fingering.weights import Weights


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be fingered: for each spot its candidates, one at least, and the chart's."""

    spots: tuple[Spot, ...]
    choices: tuple[tuple[Candidate, ...], ...]
    usual: tuple[str | None, ...]
    weights: Weights
    slide: bool = False

    def costs(self, chosen: Sequence[Candidate]) -> tuple[Terms, ...]:
        """The terms of a plan, note by note."""
        return cost_of(self.spots, chosen, self.usual, self.weights, slide=self.slide)


@dataclass(frozen=True, slots=True)
class Plan:
    """One fingering of the whole passage, with its terms note by note."""

    chosen: tuple[Candidate, ...]
    terms: tuple[Terms, ...]

    @property
    def cost(self) -> float:
        return total(self.terms)


class _Way:
    """One way to a fingering of a note: its cost, exchanges in the phrase, the valves of earlier
    notes that later ones will be compared with, and in how many notes it differs from each plan
    that it must differ from."""

    __slots__ = ("before", "choice", "cost", "exchanges", "held", "unlike")

    def __init__(
        self,
        choice: int,
        cost: float,
        exchanges: int,
        held: tuple[str, ...],
        unlike: tuple[int, ...],
        before: _Way | None,
    ) -> None:
        self.choice = choice
        self.cost = cost
        self.exchanges = exchanges
        self.held = held
        self.unlike = unlike
        self.before = before


def plans(problem: Problem, count: int = 1) -> tuple[Plan, ...]:
    """The cheapest plan, and up to `count` - 1 more, each the cheapest of those that differ from
    all before it in at least `apart(problem)` notes; cheapest first."""
    found: list[Plan] = []
    while len(found) < count:
        chosen = _cheapest(problem, [plan.chosen for plan in found], apart(problem))
        if chosen is None:
            break
        found.append(Plan(chosen, problem.costs(chosen)))
    return tuple(found)


def apart(problem: Problem) -> int:
    """In how many notes two plans must differ to be offered beside each other."""
    return max(1, min(4, len(problem.spots) // 6))


def _cheapest(
    problem: Problem, unlike: Sequence[Sequence[Candidate]], apart_notes: int
) -> tuple[Candidate, ...] | None:
    if not problem.spots:
        return None if unlike else ()
    search = _Search(problem, unlike, apart_notes)
    ways = [w for w in search.run() if all(d >= apart_notes for d in w.unlike)]
    if not ways:
        return None
    places: list[int] = []
    way: _Way | None = min(ways, key=lambda w: w.cost)
    while way is not None:
        places.append(way.choice)
        way = way.before
    pairs = zip(problem.choices, reversed(places), strict=True)
    return tuple(choice[place] for choice, place in pairs)


class _Search:
    """The ways through a problem, note by note."""

    def __init__(
        self, problem: Problem, unlike: Sequence[Sequence[Candidate]], apart_notes: int
    ) -> None:
        self._problem = problem
        self._unlike = unlike
        self._apart = apart_notes
        self._held = _held_after(problem.spots)
        self._notes: dict[tuple[object, ...], list[float]] = {}
        self._moves: dict[tuple[object, ...], list[list[Move]]] = {}
        growth = problem.weights.growth
        self._growth = [1 + growth * earlier for earlier in range(MOST_EXCHANGES + 1)]

    def run(self) -> list[_Way]:
        """The undominated ways to the last note."""
        nothing = (0,) * len(self._unlike)
        costs = self._note_costs(0)
        ways = [
            _Way(k, costs[k], 0, self._still_held(0, k, ()), self._unlike_now(0, k, nothing), None)
            for k in range(len(self._problem.choices[0]))
        ]
        for place in range(1, len(self._problem.spots)):
            plain = not (self._unlike or self._held[place] or self._held[place - 1])
            ways = self._grown_plainly(place, ways) if plain else self._grown(place, ways)
        return ways

    def _grown_plainly(self, place: int, ways: Sequence[_Way]) -> list[_Way]:
        """Where nothing but costs and exchanges is to be remembered: for each fingering and count
        of exchanges the cheapest way, if no way with fewer of them is as cheap."""
        fresh = self._problem.spots[place].fresh
        costs, moves = self._note_costs(place), self._move_costs(place)
        growth, most = self._growth, MOST_EXCHANGES
        kept: list[_Way] = []
        for k, held in enumerate(costs):
            cheapest: list[tuple[float, _Way] | None] = [None] * (most + 1)
            for way in ways:
                move = moves[way.choice][k]
                earlier = 0 if fresh else way.exchanges
                cost = way.cost + move.plain + move.exchange * growth[earlier]
                count = min(most, earlier + move.exchanges)
                known = cheapest[count]
                if known is None or cost < known[0]:
                    cheapest[count] = cost, way
            least = float("inf")
            for count, found in enumerate(cheapest):
                if found is not None and found[0] < least:
                    least = found[0]
                    kept.append(_Way(k, least + held, count, (), (), found[1]))
        return kept

    def _grown(self, place: int, ways: Sequence[_Way]) -> list[_Way]:
        costs, moves = self._note_costs(place), self._move_costs(place)
        kept: list[_Way] = []
        for k, held in enumerate(costs):
            here = [self._longer(place, k, held, way, moves[way.choice][k]) for way in ways]
            kept += self._undominated(here)
        return kept

    def _longer(self, place: int, choice: int, held: float, before: _Way, move: Move) -> _Way:
        problem = self._problem
        spot = problem.spots[place]
        earlier = 0 if spot.fresh else before.exchanges
        cost = before.cost + move.plain + move.exchange * self._growth[earlier] + held
        if spot.image is not None:
            image = before.held[self._held[place - 1].index(spot.image)]
            candidate = problem.choices[place][choice]
            cost += shape_cost(candidate, image, spot, problem.weights)
        return _Way(
            choice,
            cost,
            min(MOST_EXCHANGES, earlier + move.exchanges),
            self._still_held(place, choice, before.held),
            self._unlike_now(place, choice, before.unlike),
            before,
        )

    def _still_held(self, place: int, choice: int, past: tuple[str, ...]) -> tuple[str, ...]:
        before = self._held[place - 1] if place else ()
        valves = self._problem.choices[place][choice].valves
        return tuple(valves if at == place else past[before.index(at)] for at in self._held[place])

    def _unlike_now(self, place: int, choice: int, past: tuple[int, ...]) -> tuple[int, ...]:
        name = self._problem.choices[place][choice].fingering
        return tuple(
            min(self._apart, count + (plan[place].fingering != name))
            for count, plan in zip(past, self._unlike, strict=True)
        )

    def _undominated(self, ways: list[_Way]) -> list[_Way]:
        kept: list[_Way] = []
        for way in sorted(ways, key=lambda w: (w.cost, w.exchanges)):
            if not any(self._dominates(other, way) for other in kept):
                kept.append(way)
        return kept

    def _dominates(self, one: _Way, other: _Way) -> bool:
        """Whether nothing that follows can make `other` the better one."""
        if one.exchanges > other.exchanges:
            return False
        if any(a < b for a, b in zip(one.unlike, other.unlike, strict=True)):
            return False
        if one.held == other.held:
            return one.cost <= other.cost
        differ = sum(a != b for a, b in zip(one.held, other.held, strict=True))
        return one.cost + differ * self._problem.weights.same_shape <= other.cost

    def _note_costs(self, place: int) -> list[float]:
        """The cost of holding each choice of a note."""
        problem = self._problem
        spot, usual = problem.spots[place], problem.usual[place]
        key = spot.pitch, spot.gap_s, spot.slurred, spot.pinned, spot.known, usual
        if key not in self._notes:
            self._notes[key] = [
                sum(note_terms(c, spot, usual, problem.weights, slide=problem.slide).values())
                for c in problem.choices[place]
            ]
        return self._notes[key]

    def _move_costs(self, place: int) -> list[list[Move]]:
        """The moves from each choice of the note before to each of this one."""
        problem = self._problem
        before, spot = problem.spots[place - 1], problem.spots[place]
        key = (
            before.pitch, before.pinned, spot.pitch, spot.pinned,
            spot.before_s, spot.slurred, spot.fresh,
        )  # fmt: skip
        if key not in self._moves:
            self._moves[key] = [
                [move_terms(a, b, spot, problem.weights, slide=problem.slide)
                 for b in problem.choices[place]]
                for a in problem.choices[place - 1]
            ]  # fmt: skip
        return self._moves[key]


def _held_after(spots: Sequence[Spot]) -> list[tuple[int, ...]]:
    """For each place the earlier places (itself included) with which a later one is compared."""
    last_use = {spot.image: k for k, spot in enumerate(spots) if spot.image is not None}
    open_places: list[int] = []
    held = []
    for place in range(len(spots)):
        if place in last_use:
            open_places.append(place)
        open_places = [at for at in open_places if last_use[at] > place]
        held.append(tuple(open_places))
    return held
