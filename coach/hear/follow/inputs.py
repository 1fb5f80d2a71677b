"""What the net is shown of one expected note: features around it, and what stands in the score."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import PITCH_CHANNELS, SOUND_CHANNELS, Rows

CONSTANTS = 7
# Semitones from the expected pitch that are told apart.
PITCH_CLASSES, MIDDLE_CLASS = 27, 13
CHANNELS = SOUND_CHANNELS + 3 * PITCH_CHANNELS + CONSTANTS
SILENT = -2.0
MIDDLE_PITCH = 58.0


@dataclass(frozen=True, slots=True)
class NoteContext:
    """An expected note: pitches are sounding MIDI numbers, None where there is no neighbour.

    `interval_s` is the written time to the nearer neighbour.
    """

    pitch: int
    before: int | None
    after: int | None
    slurred: bool
    interval_s: float


def note_inputs(bank: Bank, note: NoteContext, start: int, end: int) -> Rows:
    """Shape (end - start, CHANNELS) for hops start .. end - 1 (which must be known)."""
    count = end - start
    parts = [bank.sound_rows.rows(start, end)]
    for pitch in (note.pitch, note.before, note.after):
        parts.append(_silence(count) if pitch is None else bank.pitch_rows(pitch, start, end))
    parts.append(np.tile(constants(note), (count, 1)))
    return np.concatenate(parts, axis=1)


def constants(note: NoteContext) -> Rows:
    """What stands in the score, as numbers of about one; shape (CONSTANTS,)."""
    before = note.pitch if note.before is None else note.before
    after = note.pitch if note.after is None else note.after
    return np.array(
        [
            (note.pitch - MIDDLE_PITCH) / 12,
            float(note.slurred),
            float(note.before == note.pitch),
            float(note.before is None),
            np.clip((before - note.pitch) / 7, -2, 2),
            np.clip((after - note.pitch) / 7, -2, 2),
            np.clip(np.log2(max(note.interval_s, 0.02) / 0.15), -2, 3),
        ],
        np.float32,
    )


def note_context(note: NoteContext) -> Rows:
    """What the note net knows of the score: the constants, and the neighbours in semitones."""
    return np.concatenate(
        [constants(note), _one_hot(note.before, note), _one_hot(note.after, note)]
    )


def _one_hot(pitch: int | None, note: NoteContext) -> Rows:
    """Which semitone from the note's pitch, the last place for none or one too far away."""
    places = np.zeros(PITCH_CLASSES + 1, np.float32)
    away = PITCH_CLASSES if pitch is None else pitch - note.pitch + MIDDLE_CLASS
    places[away if 0 <= away < PITCH_CLASSES else PITCH_CLASSES] = 1.0
    return places


def _silence(count: int) -> Rows:
    rows = np.full((count, PITCH_CHANNELS), SILENT, np.float32)
    rows[:, -1] = 0.0
    return rows
