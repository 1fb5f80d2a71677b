"""Lip slurs: partials of one fingering, changed by the lips alone."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.fingering.candidates import candidates
from coach.core.passage import Passage, in_a_row
from coach.core.patterns.keys import nearest_signature, semitones_of_partial
from coach.core.patterns.layout import held
from coach.core.warmup.reach import Reach

# Three partials, counted from below.
PATTERNS = (
    (0, 1, 0, 1, 2, 1, 2, 1, 0),
    (0, 1, 2, 1, 0, 1, 2, 1, 0),
    (1, 0, 1, 2, 1, 0, 1, 2, 1),
    (2, 1, 0, 1, 2, 1, 0, 1, 2, 1, 0),
)
_FURTHEST_SEMITONES = 7
_FURTHEST_OFF_CENTS = 35
_MOST_FINGERINGS = 5


@dataclass(frozen=True, slots=True, order=True)
class Series:
    """One fingering on one side: `length` orders them, short tubes first; `root` is the sounding
    pitch of the first partial."""

    side: str
    length: float
    fingering: str
    root: int


def by_side(reach: Reach) -> dict[str, list[tuple[Series, tuple[int, ...]]]]:
    """For each side its fingerings, short tubes first, with the three neighbouring partials nearest
    the middle of the reach; empty where there are no such fingerings."""
    sides: dict[str, list[tuple[Series, tuple[int, ...]]]] = {}
    for series, pitches in sorted(_partials(reach).items()):
        near = _nearest_three(pitches, reach.middle)
        here = sides.setdefault(series.side, [])
        if near and len(here) < _MOST_FINGERINGS and near not in [notes for _, notes in here]:
            here.append((series, near))
    return {side: found for side, found in sides.items() if found}


def passage(found: tuple[Series, tuple[int, ...]], pattern: Sequence[int], reach: Reach) -> Passage:
    """The pattern in eighths under one slur, spelt in the key of its series."""
    series, notes = found
    made = in_a_row([notes[place] for place in pattern], Fraction(1, 2), slurred=True)
    marked = tuple(replace(note, fingering=series.fingering) for note in made)
    written_root = series.root - reach.instrument.transposition
    fifths = nearest_signature((7 * written_root + 5) % 12 - 5)
    hold = "position" if reach.instrument.slide else "fingering"
    return held(Passage(marked, f"{hold} {series.fingering}", fifths=fifths))


def _partials(reach: Reach) -> dict[Series, list[int]]:
    """The notes of each fingering that are in tune, upwards."""
    found: dict[Series, list[int]] = {}
    for pitch in reach.row():
        for c in candidates(reach.instrument, pitch):
            if not c.extra and abs(c.cents) <= _FURTHEST_OFF_CENTS:
                root = pitch - semitones_of_partial(c.partial)
                found.setdefault(Series(c.side, c.length, c.fingering, root), []).append(pitch)
    return found


def _nearest_three(pitches: Sequence[int], middle: float) -> tuple[int, ...]:
    """Three neighbours none of which lie too far apart, their middle one nearest to `middle`."""
    near = [
        three
        for three in zip(pitches, pitches[1:], pitches[2:], strict=False)
        if all(b - a <= _FURTHEST_SEMITONES for a, b in itertools.pairwise(three))
    ]
    return min(near, key=lambda three: abs(three[1] - middle), default=())
