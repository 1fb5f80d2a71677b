"""The features that a page would have if it were played."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Protocol

import numpy as np

from coach.hear.align.bank import (
    COMPRESSION,
    LOWEST,
    PITCHES,
    Features,
    directions,
    dying_away,
)

# Strength of each harmonic: (semitones above, share of the power); an even tone, no instrument's.
HARMONICS = ((0, 1.0), (12, 0.5), (19, 0.35), (24, 0.25), (28, 0.2), (31, 0.15))
USUAL_VELOCITY = 80
# The loudest there is, in notes at the usual velocity.
LOUDEST = 30.0
# A note rings on in the room: so fast it dies away by 60 dB, and for so long it is followed.
ROOM_S, RINGING_S = 1.0, 0.8


class ScoreNote(Protocol):
    """A note of the page: beats, sounding MIDI number, MIDI velocity."""

    @property
    def start_beats(self) -> Fraction: ...
    @property
    def end_beats(self) -> Fraction: ...
    @property
    def pitch(self) -> int: ...
    @property
    def velocity(self) -> int: ...


def page_features(
    notes: Sequence[ScoreNote], second_at: Callable[[float], float], count: int, hop_s: float
) -> Features:
    """`count` rows of features every `hop_s`; `second_at` says when a beat is played."""
    power, onsets = np.zeros((count, PITCHES)), np.zeros((count, PITCHES))
    ringing = 10 ** (-6 * np.arange(round(RINGING_S / hop_s)) * hop_s / ROOM_S)
    for note in notes:
        start = round(second_at(float(note.start_beats)) / hop_s)
        end = max(start + 1, round(second_at(float(note.end_beats)) / hop_s))
        first, last = max(0, start), min(end + len(ringing), count)
        if first >= last:
            continue
        shape = np.concatenate([np.ones(max(0, end - first)), ringing[max(0, first - end) :]])
        shape = shape[: last - first] * (note.velocity / USUAL_VELOCITY) ** 2
        for above, share in HARMONICS:
            kind = note.pitch + above - LOWEST
            if 0 <= kind < PITCHES:
                power[first:last, kind] += shape * share
                onsets[start if start >= 0 else first, kind] += np.sqrt(share) * (start >= 0)
    level = np.log1p(COMPRESSION / LOUDEST * power)
    silent = power.sum(axis=1) == 0
    return Features(hop_s, directions(level, silent), dying_away(np.log1p(onsets), hop_s))
