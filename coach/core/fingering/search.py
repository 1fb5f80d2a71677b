"""The search for the cheapest way through a passage, note by note, exactly.

All ways to a fingering of a note are kept that could still turn out the best.  They are sorted by
what later costs depend on: how many exchanges the phrase has had, and a memory of the valves that
a returning figure will be compared with and of how many notes differ from each plan that the new
one must differ from.  A way is dropped only for another to the same fingering with no more
exchanges that is cheaper by all that the other memory could ever gain.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.core.fingering.candidates import Candidate
from coach.core.fingering.prices import Prices, Step
from coach.core.fingering.problem import Problem
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import MOST_EXCHANGES, exchange_growth

# The last choice and the chain of those before it; None before the first.
Chain = tuple[int, object] | None
# Exchanges in the phrase, cost, choices so far.
Way = tuple[int, float, Chain]
# By rising number of exchanges and falling cost.
Ways = list[Way]


@dataclass(frozen=True, slots=True)
class Memory:
    """Valves `held` for figures that return, and in how many notes a way is `unlike` each of the
    plans that it must differ from."""

    held: tuple[str, ...] = ()
    unlike: tuple[int, ...] = ()


# The ways to one note by memory, then by choice.
Level = dict[Memory, dict[int, Ways]]
_NOTHING = Memory()
_NO_MATCH = ""


def cheapest(
    problem: Problem, others: Sequence[Sequence[Candidate]], apart_notes: int
) -> tuple[Candidate, ...] | None:
    """The cheapest of all plans that differ from each of `others` in `apart_notes` notes or more;
    None where there is none."""
    if not problem.spots:
        return None if others else ()
    ways = [
        way
        for memory, by_choice in _Search(problem, others, apart_notes).last().items()
        if all(count >= apart_notes for count in memory.unlike)
        for choice_ways in by_choice.values()
        for way in choice_ways
    ]
    if not ways:
        return None
    places = _unwound(min(ways, key=lambda way: way[1])[2])
    return tuple(choices[place] for choices, place in zip(problem.choices, places, strict=True))


def _unwound(chain: object) -> list[int]:
    places = []
    while isinstance(chain, tuple):
        place, chain = chain
        places.append(place)
    return places[::-1]


class _Search:
    """One search; `last` runs it."""

    def __init__(
        self, problem: Problem, others: Sequence[Sequence[Candidate]], apart_notes: int
    ) -> None:
        self._problem = problem
        self._others = [[candidate.fingering for candidate in other] for other in others]
        self._apart = apart_notes
        self._prices = Prices(problem)
        self._held = held_after(problem.spots)
        self._stakes, self._useful = self._at_stake()
        self._growth = [exchange_growth(k, problem.weights) for k in range(MOST_EXCHANGES + 1)]

    def last(self) -> Level:
        """The ways to the last note."""
        level = self._first()
        for place in range(1, len(self._problem.spots)):
            level = self._next(place, level)
        return level

    def _at_stake(self) -> tuple[dict[int, float], dict[int, set[str]]]:
        """For each place that is an image, all that later notes could pay because of its valves,
        and the valves that they can have."""
        stakes: dict[int, float] = {}
        useful: dict[int, set[str]] = {}
        for place, spot in enumerate(self._problem.spots):
            if spot.image is not None:
                stakes[spot.image] = stakes.get(spot.image, 0.0) + self._prices.shape(place)
                valves = {candidate.valves for candidate in self._problem.choices[place]}
                useful[spot.image] = useful.get(spot.image, set()) | valves
        return stakes, useful

    def _first(self) -> Level:
        nothing = Memory((), (0,) * len(self._others))
        level: Level = {}
        for k, cost in enumerate(self._prices.notes(0)):
            level.setdefault(self._remembered(0, k, nothing), {})[k] = [(0, cost, (k, None))]
        return level

    def _next(self, place: int, before: Level) -> Level:
        steps, costs = self._prices.moves(place), self._prices.notes(place)
        if self._problem.spots[place].fresh:
            before = {memory: _begun_anew(by_choice) for memory, by_choice in before.items()}
        level: Level = {}
        for k, cost in enumerate(costs):
            arrived: dict[Memory, _Arrived] = {}
            for memory, by_choice in before.items():
                goal = arrived.setdefault(self._remembered(place, k, memory), _Arrived())
                goal.add(by_choice, steps[k], cost + self._shape(place, k, memory), self._growth)
            found = {memory: goal.ways(k) for memory, goal in arrived.items()}
            if len(found) > 1:
                self._compare(place, found)
            for memory, ways in found.items():
                if ways:
                    level.setdefault(memory, {})[k] = ways
        return level

    def _shape(self, place: int, choice: int, memory: Memory) -> float:
        """What it costs that a figure returns with other valves."""
        image = self._problem.spots[place].image
        if image is None:
            return 0.0
        valves = memory.held[self._held[place - 1].index(image)]
        same = valves == self._problem.choices[place][choice].valves
        return 0.0 if same else self._prices.shape(place)

    def _remembered(self, place: int, choice: int, past: Memory) -> Memory:
        """The memory after this choice."""
        held = self._held[place]
        if not held and not past.unlike:
            return _NOTHING
        before = self._held[place - 1] if place else ()
        here = self._problem.choices[place][choice]
        valves = tuple(
            self._worth_holding(k, here.valves) if k == place else past.held[before.index(k)]
            for k in held
        )
        unlike = tuple(
            min(self._apart, count + (other[place] != here.fingering))
            for count, other in zip(past.unlike, self._others, strict=True)
        )
        return Memory(valves, unlike)

    def _worth_holding(self, place: int, valves: str) -> str:
        """The valves of an image, "" where no later note can have them: all those are alike."""
        return valves if valves in self._useful[place] else _NO_MATCH

    def _compare(self, place: int, found: dict[Memory, Ways]) -> None:
        """Drop ways that are dearer than one with another memory by all that theirs could gain."""
        order = sorted((m for m in found if found[m]), key=lambda m: found[m][-1][1])
        for one in order:
            for other in order:
                if other is one or not found[one] or not found[other]:
                    continue
                gain = self._most_gained(place, one, other)
                if gain is not None:
                    found[other] = _not_undercut(found[other], found[one], gain)

    def _most_gained(self, place: int, one: Memory, other: Memory) -> float | None:
        """By how much `other` can make what follows cheaper, at most; None: without a bound."""
        if any(a < b for a, b in zip(one.unlike, other.unlike, strict=True)):
            return None
        if one.held == other.held:
            return 0.0
        held = zip(self._held[place], one.held, other.held, strict=True)
        return sum(self._stakes[k] for k, a, b in held if a != b and b != _NO_MATCH)


class _Arrived:
    """The cheapest ways to one choice with one memory, by their number of exchanges."""

    __slots__ = ("chains", "costs")

    def __init__(self) -> None:
        self.costs = [float("inf")] * (MOST_EXCHANGES + 1)
        self.chains: list[Chain] = [None] * (MOST_EXCHANGES + 1)

    def add(
        self,
        before: Mapping[int, Ways],
        steps: Sequence[Step],
        held: float,
        growth: Sequence[float],
    ) -> None:
        """All moves from the note before; `held` is the cost of the choice itself."""
        costs, chains = self.costs, self.chains
        for choice, ways in before.items():
            plain, exchange, exchanges = steps[choice]
            plain += held
            for count, cost, chain in ways:
                cost += plain
                if exchanges:
                    cost += exchange * growth[count]
                    count = min(MOST_EXCHANGES, count + exchanges)
                if cost < costs[count]:
                    costs[count] = cost
                    chains[count] = chain

    def ways(self, choice: int) -> Ways:
        """Those that none with fewer exchanges undercuts."""
        least = float("inf")
        kept: Ways = []
        for count, cost in enumerate(self.costs):
            if cost < least:
                least = cost
                kept.append((count, cost, (choice, self.chains[count])))
        return kept


def _begun_anew(by_choice: Mapping[int, Ways]) -> dict[int, Ways]:
    """At a new phrase exchanges count from 0: the cheapest way, which is the last, will do."""
    return {choice: [(0, *ways[-1][1:])] for choice, ways in by_choice.items()}


def _not_undercut(ways: Ways, rivals: Ways, gain: float) -> Ways:
    """The ways without those that a rival with no more exchanges undercuts by `gain`."""
    return [
        way
        for way in ways
        if not any(count <= way[0] and cost + gain <= way[1] for count, cost, _ in rivals)
    ]


def held_after(spots: Sequence[Spot]) -> list[tuple[int, ...]]:
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
