"""Passages for the generators: any rhythm, rests, slurs, syllables and accents, in three meters."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from coach.core.passage import Note, Passage

# Bars and clicks of 4/4, 3/4 and 6/8 in quarter notes (common music theory).
METERS = ((4, 1), (3, 1), (3, Fraction(3, 2)))
LENGTHS = (Fraction(1, 4), Fraction(1, 3), Fraction(1, 2), Fraction(1))


@st.composite
def passages(draw, lowest: int = 50, highest: int = 80) -> Passage:
    """At least two notes on different pitches.  Most lengths are the usual one, so that there are
    runs."""
    usual, places = draw(st.sampled_from(LENGTHS)), draw(st.integers(2, 20))
    notes: list[Note] = []
    at = draw(st.sampled_from([0, Fraction(1, 2), 1])) * Fraction(1)
    for place in range(places):
        length = draw(st.sampled_from((usual,) * 6 + LENGTHS))
        pitch = draw(st.integers(lowest, highest))
        if place == 1 and pitch == notes[0].pitch:
            pitch += 1 if pitch < highest else -1
        joins = bool(notes) and notes[-1].end_beats == at and notes[-1].pitch != pitch
        slurred = joins and draw(st.booleans())
        syllable = None if slurred else draw(st.sampled_from([None, "ta", "ka"]))
        notes.append(Note(pitch, at, length, slurred, syllable, accent=draw(st.booleans())))
        at += length + draw(st.sampled_from([0, 0, 0, Fraction(1, 4), 1]))
    bar, pulse = draw(st.sampled_from(METERS))
    fifths = draw(st.sampled_from([0, -1, 1]))
    return Passage(tuple(notes), "any", Fraction(bar), Fraction(pulse), fifths)
