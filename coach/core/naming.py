"""Names of written notes as brass players say them."""

from __future__ import annotations

from coach.core.pitch import name_of_midi

_FLATS = (3, 10)


def note_name(midi: int, fifths: int = 0) -> str:
    """Flats in keys with flats, sharps in keys with sharps; with neither, sharps but E-flat and
    B-flat, which brass players hardly ever call otherwise."""
    flat = fifths == 0 and midi % 12 in _FLATS
    return name_of_midi(midi, -1 if flat else fifths)
