"""Passages for tests of fingering, written in one line."""

from __future__ import annotations

from fractions import Fraction

from coach.core.instrument import Instrument
from coach.core.passage import Note, Passage
from coach.core.pitch import midi_of_name

SIXTEENTH = Fraction(1, 4)


def passage_of(text: str, instrument: Instrument) -> Passage:
    """ "G4 ~A4 Bb4*4 -": written pitches, slurred to A4, Bb4 four sixteenths long, a rest."""
    notes, at = [], Fraction(0)
    for entry in text.split():
        name, _, units = entry.partition("*")
        length = SIXTEENTH * int(units or 1)
        if name != "-":
            pitch = midi_of_name(name.lstrip("~")) + instrument.transposition
            notes.append(Note(pitch, at, length, name.startswith("~")))
        at += length
    return Passage(tuple(notes))
