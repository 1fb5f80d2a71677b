"""Figures that return, at once and perhaps transposed: which note repeats which."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from coach.core.passage import Note

SHORTEST, LONGEST = 3, 16
# Of a long figure the beginning: the rest follows it, and to remember more takes the planner long.
COMPARED = 8
# An octave higher no instrument here has the same valves throughout.
OCTAVES = (-24, -12, 12, 24)


def images_of(notes: Sequence[Note]) -> tuple[int | None, ...]:
    """For each note the note of the figure before that it repeats, or None.

    A figure is a row of SHORTEST to LONGEST notes followed by the same row, all its pitches moved
    alike (but not by octaves), with the same lengths; the shortest that fits counts, and of a long
    one its first COMPARED notes.  One note repeated is no figure, nor is what only goes one way;
    a note repeated within a figure needs no finger and is not compared.
    """
    images: list[int | None] = [None] * len(notes)
    place = 0
    while place < len(notes):
        length = _figure_at(notes, place)
        if length is None:
            place += 1
            continue
        for k in range(min(length, COMPARED)):
            if not k or notes[place + k].pitch != notes[place + k - 1].pitch:
                images[place + length + k] = place + k
        place += length
    return tuple(images)


def _figure_at(notes: Sequence[Note], start: int) -> int | None:
    """The length of the figure that begins here and returns at once."""
    for length in range(SHORTEST, LONGEST + 1):
        if start + 2 * length > len(notes):
            return None
        if _returns(notes, start, length) and not _is_plain(notes, start, length):
            return length
    return None


def _returns(notes: Sequence[Note], start: int, length: int) -> bool:
    moved = notes[start + length].pitch - notes[start].pitch
    if moved in OCTAVES:
        return False
    for k in range(start, start + length):
        here, there = notes[k], notes[k + length]
        if there.pitch - here.pitch != moved or there.length_beats != here.length_beats:
            return False
    return True


def _is_plain(notes: Sequence[Note], start: int, length: int) -> bool:
    """One pitch only, or one direction right through both figures, as in a scale."""
    both = [note.pitch for note in notes[start : start + 2 * length]]
    steps = [b - a for a, b in itertools.pairwise(both)]
    repeated = not any(steps[: length - 1])
    return repeated or all(step > 0 for step in steps) or all(step < 0 for step in steps)
