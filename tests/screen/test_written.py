"""A passage in words."""

from __future__ import annotations

from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.screen.written import passage_lines


def test_bars_rests_and_notes_over_the_bar():
    notes = (
        Note(53, Fraction(1), Fraction(1)),
        Note(55, Fraction(2), Fraction(5, 2), slurred=True),
        Note(56, Fraction(5), Fraction(1, 2)),
    )
    assert passage_lines(Passage(notes, fifths=-3), -7) == [
        "bar 1:  rest 1/4   C4 1/4   D4 5/8 slur ->",
        "bar 2:  (held)   rest 1/8   Eb4 1/8   rest 5/8",
    ]


def test_a_long_bar_is_set_in_and_notes_stay_beside_their_lengths():
    notes = tuple(Note(53, Fraction(k, 2), Fraction(1, 2)) for k in range(8))
    rows = passage_lines(Passage(notes), -7, 40)
    assert len(rows) == 3
    assert all(len(row) <= 40 for row in rows)
    assert all(row.startswith(" " * 8 + "C4 1/8   C4 1/8") for row in rows[1:])
