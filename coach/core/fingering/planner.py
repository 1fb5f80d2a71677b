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
    exchange_cost,
    move_terms,
    note_terms,
    shape_cost,
    total,
)
from coach.core.fingering.weights import Weights


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be fingered: for each spot its candidates (one at least) and the chart's choice."""

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

    __slots__ = ("before", "candidate", "cost", "exchanges", "held", "unlike")

    def __init__(
        self,
        candidate: Candidate,
        cost: float,
        exchanges: int,
        held: tuple[str, ...],
        unlike: tuple[int, ...],
        before: _Way | None,
    ) -> None:
        self.candidate = candidate
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
    best = min(ways, key=lambda w: w.cost)
    chosen: list[Candidate] = []
    way: _Way | None = best
    while way is not None:
        chosen.append(way.candidate)
        way = way.before
    return tuple(reversed(chosen))


class _Search:
    """The ways through a problem, note by note."""

    def __init__(
        self, problem: Problem, unlike: Sequence[Sequence[Candidate]], apart_notes: int
    ) -> None:
        self._problem = problem
        self._unlike = unlike
        self._apart = apart_notes
        self._held = _held_after(problem.spots)
        self._notes: dict[tuple[object, ...], float] = {}
        self._moves: dict[tuple[object, ...], Move] = {}

    def run(self) -> list[_Way]:
        """The undominated ways to the last note."""
        ways = self._grown(0, [None])
        for place in range(1, len(self._problem.spots)):
            ways = self._grown(place, ways)
        return ways

    def _grown(self, place: int, ways: Sequence[_Way | None]) -> list[_Way]:
        kept: list[_Way] = []
        for candidate in self._problem.choices[place]:
            held = self._note_cost(place, candidate)
            here = [self._way(place, candidate, held, way) for way in ways]
            kept += self._undominated(here)
        return kept

    def _way(self, place: int, candidate: Candidate, held: float, before: _Way | None) -> _Way:
        problem = self._problem
        spot = problem.spots[place]
        cost, earlier = held, 0
        if before is not None:
            earlier = 0 if spot.fresh else before.exchanges
            move = self._move(before.candidate, candidate, spot)
            cost += before.cost + move.plain + exchange_cost(move, earlier, problem.weights)
            earlier = min(MOST_EXCHANGES, earlier + move.exchanges)
        past = before.held if before is not None else ()
        if spot.image is not None:
            image = past[self._held[place - 1].index(spot.image)]
            cost += shape_cost(candidate, image, spot, problem.weights)
        return _Way(
            candidate,
            cost,
            earlier,
            self._still_held(place, candidate, past),
            self._unlike_now(place, candidate, before),
            before,
        )

    def _still_held(
        self, place: int, candidate: Candidate, past: tuple[str, ...]
    ) -> tuple[str, ...]:
        before = self._held[place - 1] if place else ()
        return tuple(
            candidate.valves if at == place else past[before.index(at)] for at in self._held[place]
        )

    def _unlike_now(self, place: int, candidate: Candidate, before: _Way | None) -> tuple[int, ...]:
        past = before.unlike if before is not None else (0,) * len(self._unlike)
        return tuple(
            min(self._apart, count + (plan[place].fingering != candidate.fingering))
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

    def _note_cost(self, place: int, candidate: Candidate) -> float:
        spot, usual = self._problem.spots[place], self._problem.usual[place]
        key = candidate.fingering, spot.pitch, spot.gap_s, spot.slurred, spot.known, usual
        if key not in self._notes:
            terms = note_terms(
                candidate, spot, usual, self._problem.weights, slide=self._problem.slide
            )
            self._notes[key] = sum(terms.values())
        return self._notes[key]

    def _move(self, before: Candidate, after: Candidate, spot: Spot) -> Move:
        key = (
            before.fingering, before.partial, after.fingering, after.partial,
            spot.before_s, spot.slurred, spot.fresh,
        )  # fmt: skip
        if key not in self._moves:
            self._moves[key] = move_terms(
                before, after, spot, self._problem.weights, slide=self._problem.slide
            )
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
