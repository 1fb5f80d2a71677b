"""Rhythms over even notes: one note of each group long, the others quick, the long one walking
through the group (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.core.variants.laying import Laid, joined_title, laid, usual_length

# How many quick notes' time the long note has: dotted in pairs, with the others of its group a
# whole number of beats in threes and fours.
LONG_UNITS = {2: 3, 3: 2, 4: 5}


def rhythms(passage: Passage, group: int = 2) -> tuple[Passage, ...]:
    """One passage for each place of the long note in groups of 2, 3 or 4.

    The quick notes keep their length, so they come at the passage's own speed.  Notes longer or
    shorter than usual stay as they are, at the same place of the click as before (the note before
    waits for it), and so do rests; after them a new group begins.  ValueError for another group.
    """
    if group not in LONG_UNITS:
        raise ValueError(f"notes go in groups of 2, 3 or 4, not {group}")
    return tuple(_rhythm(passage, group, long) for long in range(group))


def _rhythm(passage: Passage, group: int, long: int) -> Passage:
    unit = usual_length(passage)
    row: list[Laid] = []
    at, place = Fraction(0), -1
    before: Note | None = None
    for note in passage.notes:
        goes_on = before is not None and _follows(before, note, unit)
        place = (place + 1) % group if goes_on else 0
        if not goes_on:
            at += _wait(row, at, note, before, passage.pulse_beats)
        lengthened = note.length_beats == unit and place == long
        row.append((note, note.length_beats * (LONG_UNITS[group] if lengthened else 1)))
        at, before = at + row[-1][1], note
    words = ", ".join("long" if k == long else "short" for k in range(group))
    return laid(passage, row, joined_title(passage, words))


def _follows(before: Note, note: Note, unit: Fraction) -> bool:
    """Whether both are even notes of one run."""
    return before.end_beats == note.start_beats and before.length_beats == note.length_beats == unit


def _wait(
    row: list[Laid], at: Fraction, note: Note, before: Note | None, pulse_beats: Fraction
) -> Fraction:
    """Beats until `note` has its old place of the click and its rest before it; where there was no
    rest the note before is held, so that slurs stay."""
    rest = note.start_beats - before.end_beats if before else note.start_beats
    wait = rest + (note.start_beats - at - rest) % pulse_beats
    if wait and before and not rest:
        row[-1] = row[-1][0], row[-1][1] + wait
    elif wait:
        row.append((None, wait))
    return wait
