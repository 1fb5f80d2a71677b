"""MIDI notes to attacks.

Electronic wind and valve instruments overlap legato notes: the input is taken as one voice, in
which the last note wins.  Loudness is 40 * log10(velocity / 127) dB, the General MIDI developer
guidelines' curve (from memory).
"""

from __future__ import annotations

import math

from coach.core.take import Attack, Chunk, Evidence, NoteEvent


class MidiEar:
    """Note-on events as attacks on exactly their pitch."""

    clipped = False

    def __init__(self) -> None:
        self._up_to_frame = 0

    def feed(self, chunk: Chunk) -> Evidence:
        """Attacks for the note-ons of the chunk, in order of time."""
        started = sorted((n for n in chunk.notes if n.on and n.velocity > 0), key=lambda n: n.frame)
        self._up_to_frame = chunk.end_frame
        return Evidence(tuple(_attack(n) for n in started), chunk.gaps, chunk.end_frame)

    def finish(self) -> Evidence:
        return Evidence(up_to_frame=self._up_to_frame)


def _attack(note: NoteEvent) -> Attack:
    level_db = 40 * math.log10(note.velocity / 127)
    return Attack(note.frame, float(note.pitch), level_db, rise_frames=0, fine=False)
