"""Rhythms over even notes: one note of each group long, the others quick, the long one walking
through the group (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

from coach.core.passage import Passage
from coach.core.variants.laying import Laid, joined_title, laid, usual_length

# How many quick notes' time the long note has: dotted in pairs, with the others of its group a
# whole number of beats in threes and fours.
LONG_UNITS = {2: 3, 3: 2, 4: 5}


def rhythms(passage: Passage, group: int = 2) -> tuple[Passage, ...]:
    """One passage for each place of the long note in groups of 2, 3 or 4.

    The quick notes keep their length, so they come at the passage's own speed; notes that are
    longer than usual stay as they are and begin a new group.  ValueError for another group.
    """
    if group not in LONG_UNITS:
        raise ValueError(f"notes go in groups of 2, 3 or 4, not {group}")
    return tuple(_rhythm(passage, group, long) for long in range(group))


def _rhythm(passage: Passage, group: int, long: int) -> Passage:
    unit = usual_length(passage)
    row: list[Laid] = []
    place = 0
    for note in passage.notes:
        if note.length_beats > unit:
            row.append((note, note.length_beats))
            place = 0
            continue
        row.append((note, unit * (LONG_UNITS[group] if place == long else 1)))
        place = (place + 1) % group
    words = ", ".join("long" if k == long else "short" for k in range(group))
    return laid(passage, row, joined_title(passage, words))


def dotted_lengths(unit: Fraction) -> tuple[Fraction, Fraction]:
    """Long and short in the time of two even notes."""
    return unit * Fraction(3, 2), unit * Fraction(1, 2)
