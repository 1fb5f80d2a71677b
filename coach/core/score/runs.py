"""The fastest runs of a line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import median
from typing import Any

from coach.core.score.line import Line
from coach.core.score.paced import PacedNote, paced, rates_hz

FEWEST_NOTES = 6
# No two notes of a run are further apart than this many times the middle one of its intervals:
# triplets among sixteenths belong to a run, eighths before them do not.
SLOWEST_SHARE = 0.6
# Notes further apart than a second are no run in any company.
LONGEST_S = 1.0
_SHORTEST_S = 0.02
# Intervals are compared with limits a sixth of an octave apart.
_FINENESS = 2 ** (1 / 6)


@dataclass(frozen=True, slots=True)
class Run:
    """Notes without a rest or long note from one printed bar to another: how many, how many of them
    tongued, and the middle one of their rates, in notes a second at the marked tempo (`marked`:
    there is one; else it is 120 quarters a minute)."""

    first: str
    last: str
    notes: int
    tongued: int
    rate_hz: float
    marked: bool

    def to_dict(self) -> dict[str, Any]:
        return {
            "first_bar": self.first,
            "last_bar": self.last,
            "notes": self.notes,
            "tongued": self.tongued,
            "notes_a_second": round(self.rate_hz, 2),
            "tempo_marked": self.marked,
        }


def fastest(line: Line, most: int = 3) -> tuple[Run, ...]:
    """The fastest runs, the longer one first where two are as fast; each printed note in one of
    them only, and what is played twice counted once."""
    found: list[Run] = []
    pieces = [paced(line)]
    while len(found) < most:
        stretches = [stretch for piece in pieces for stretch in _stretches(piece)]
        if not stretches:
            break
        best = min(stretches, key=_order)
        found.append(_run(best, bool(line.tempos)))
        taken = {_place(each) for each in best}
        pieces = [left for piece in pieces for left in _without(piece, taken)]
    return tuple(found)


def _place(each: PacedNote) -> tuple[str, Fraction]:
    """Where the note is printed."""
    return each.note.bar, each.note.beat


def _without(
    piece: Sequence[PacedNote], taken: set[tuple[str, Fraction]]
) -> Iterator[tuple[PacedNote, ...]]:
    """What is left of a piece, cut where the taken notes were."""
    for is_taken, left in groupby(piece, key=lambda each: _place(each) in taken):
        if not is_taken:
            yield tuple(left)


def _order(stretch: Sequence[PacedNote]) -> tuple[float, int]:
    # Equal up to a hundredth: the longer one goes first.
    return -round(median(rates_hz(stretch)), 2), -len(stretch)


def _run(stretch: Sequence[PacedNote], marked: bool) -> Run:
    return Run(
        stretch[0].note.bar,
        stretch[-1].note.bar,
        len(stretch),
        sum(not each.note.slurred for each in stretch),
        median(rates_hz(stretch)),
        marked,
    )


def _stretches(notes: Sequence[PacedNote]) -> list[tuple[PacedNote, ...]]:
    """For each limit the longest stretches inside it, if they are even enough for one run."""
    found: dict[tuple[int, int], tuple[PacedNote, ...]] = {}
    longest_s = _SHORTEST_S
    while longest_s <= LONGEST_S:
        for start, end in _within(notes, longest_s):
            if (start, end) not in found and _is_even(notes[start:end]):
                found[start, end] = tuple(notes[start:end])
        longest_s *= _FINENESS
    return list(found.values())


def _within(notes: Sequence[PacedNote], longest_s: float) -> Iterator[tuple[int, int]]:
    """Where notes follow each other within `longest_s` and without a rest, from six on."""
    breaks = [k for k, each in enumerate(notes) if each.rested or each.before_s > longest_s]
    for start, end in pairwise((0, *breaks, len(notes))):
        if end - start >= FEWEST_NOTES:
            yield start, end


def _is_even(stretch: Sequence[PacedNote]) -> bool:
    found = rates_hz(stretch)
    return min(found) >= SLOWEST_SHARE * median(found)
