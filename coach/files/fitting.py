"""A passage on a player's instrument: in an octave that it reaches, and notes by name."""

from __future__ import annotations

from dataclasses import replace

from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.pitch import name_of_midi, written_of_sounding

DEFAULT_INSTRUMENT = "double-horn"
OCTAVES = (0, 12, -12, 24, -24, 36, -36)


def in_octave(passage: Passage, player: Instrument) -> Passage | None:
    """The passage in the nearest octave that the player's instrument reaches, if there is one."""
    pitches = [note.pitch for note in passage.notes]
    for octaves in OCTAVES:
        if player.reaches(min(pitches) + octaves) and player.reaches(max(pitches) + octaves):
            moved = passage.transposed(octaves)
            return without_fingerings(moved) if octaves else moved
    return None


def without_fingerings(passage: Passage) -> Passage:
    """Fingerings hold for one instrument and one octave."""
    notes = tuple(replace(note, fingering=None) for note in passage.notes)
    return replace(passage, notes=notes)


def written_name(pitch: int, player: Instrument, passage: Passage | None = None) -> str:
    """What the player reads for a sounding pitch."""
    written = written_of_sounding(pitch, player.transposition)
    return name_of_midi(written, passage.fifths if passage else 0)
