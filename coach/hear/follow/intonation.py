"""The player's own tuning, learnt from the notes as they pass, and the pitch of each note by it.

The note net says on which semitone a note settled, by the tuning known at that time; the period of
the sound says its cents, where the note is long enough.  A player half a semitone off the pitch is
taken for a semitone wrong until the tuning is known: so every note is settled once more at the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from coach.hear.follow.frames import RATE, Samples
from coach.hear.follow.measure import steady_pitch

SETTLING_FRAMES = int(0.03 * RATE)
PERIODS_FOR_CENTS = 8
NEAR_SEMITONES, NEAR_EXPECTED = 0.45, 0.45
# A player this far off the expected pitch may still be off in tuning only.
TUNING_REACH, MOST_TUNING = 0.8, 0.6
TUNING_NOTES, REMEMBERED = 3, 16


@dataclass(frozen=True, slots=True)
class HeardPitch:
    """The pitch of one note as it was heard: `given` is the expected MIDI number, `offset` the
    semitones from it by the note net, `measured` the fractional number by the period, if any."""

    given: int
    offset: int
    measured: float | None


class Intonation:
    """Learns the tuning; 0 until a few notes are known."""

    def __init__(self) -> None:
        self.tuning = 0.0
        self._off: list[float] = []

    def heard(self, given: int, offset: int, sound: Samples) -> HeardPitch:
        """A note whose sound begins at its attack; the tuning learns from it."""
        note = HeardPitch(given, offset, _measured(given + offset + self.tuning, sound))
        if note.measured is not None and abs(note.measured - given) <= TUNING_REACH:
            self._learn(note.measured - given)
        return note

    def pitch(self, note: HeardPitch) -> tuple[float, bool]:
        """(Fractional MIDI number, whether its cents are good) by the tuning known now."""
        coarse = note.given + note.offset + self.tuning
        if note.measured is None:
            return coarse, False
        # In a room the note before may sound on: that is not this note's pitch.
        near = abs(note.measured - coarse) <= NEAR_SEMITONES
        expected = abs(note.measured - note.given - self.tuning) <= NEAR_EXPECTED
        return (note.measured, True) if near or expected else (coarse, False)

    def _learn(self, off: float) -> None:
        self._off.append(off)
        if len(self._off) >= TUNING_NOTES:
            usual = median(self._off[-REMEMBERED:])
            self.tuning = max(-MOST_TUNING, min(MOST_TUNING, usual))


def _measured(coarse: float, sound: Samples) -> float | None:
    steady = sound[SETTLING_FRAMES : int(0.9 * len(sound))]
    period = RATE / (440.0 * 2 ** ((coarse - 69) / 12))
    if len(steady) < PERIODS_FOR_CENTS * period:
        return None
    return steady_pitch(steady, coarse)
