"""The costs that the search needs, each table made once."""

from __future__ import annotations

from coach.core.fingering.problem import Problem
from coach.core.fingering.spots import Spot
from coach.core.fingering.terms import Move, Usual, move_terms, note_terms, shape_weight

# A move's plain cost, its exchanges as the first of a phrase, and how many there are.
Step = tuple[float, float, int]


class Prices:
    """Notes with the same choices and times share one table."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        kinds: dict[object, int] = {}
        self._kinds = [kinds.setdefault(choice, len(kinds)) for choice in problem.choices]
        self._notes: dict[object, list[float]] = {}
        self._moves: dict[object, list[list[Step]]] = {}

    def notes(self, place: int) -> list[float]:
        """The cost of holding each choice of a note."""
        spot, usual = self._problem.spots[place], self._problem.usual[place]
        key = self._kinds[place], spot.gap_s, spot.slurred, spot.known, usual
        if key not in self._notes:
            self._notes[key] = self._noted(place, spot, usual)
        return self._notes[key]

    def moves(self, place: int) -> list[list[Step]]:
        """For each choice of a note the moves to it from each choice of the note before."""
        spot = self._problem.spots[place]
        key = self._kinds[place - 1], self._kinds[place], spot.before_s, spot.slurred, spot.fresh
        if key not in self._moves:
            self._moves[key] = self._moved(place, spot)
        return self._moves[key]

    def shape(self, place: int) -> float:
        """What it costs that the note of a figure has other valves than its image."""
        return shape_weight(self._problem.spots[place], self._problem.weights)

    def _noted(self, place: int, spot: Spot, usual: Usual) -> list[float]:
        weights, slide = self._problem.weights, self._problem.slide
        return [
            sum(note_terms(candidate, spot, usual, weights, slide=slide).values())
            for candidate in self._problem.choices[place]
        ]

    def _moved(self, place: int, spot: Spot) -> list[list[Step]]:
        weights, slide = self._problem.weights, self._problem.slide
        before, here = self._problem.choices[place - 1], self._problem.choices[place]
        table = []
        for after in here:
            moves = [move_terms(one, after, spot, weights, slide=slide) for one in before]
            table.append([_step(move) for move in moves])
        return table


def _step(move: Move) -> Step:
    if move.exchanges:
        return move.plain, move.exchange, move.exchanges
    return move.plain + move.exchange, 0.0, 0
