"""What a player can reach: the notes of the instrument, and the comfortable ones among them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from coach.core.fingering.candidates import candidates
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.pitch import name_of_midi, written_of_sounding

LEAVE_OUT_SHARE = 0.2
LEAST_SEMITONES = 7
LEAST_NOTES = 3


@dataclass(frozen=True, slots=True)
class Reach:
    """The notes of `instrument` from `low` to `high`, sounding MIDI numbers."""

    instrument: Instrument
    low: int
    high: int

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2

    def row(self) -> list[int]:
        """What can be played of this range, upwards."""
        return [p for p in range(self.low, self.high + 1) if playable(self.instrument, p)]

    def beyond(self, semitones: int) -> Reach:
        """The range with so many semitones more at either end, as far as the instrument goes."""
        return Reach(
            self.instrument,
            max(self.low - semitones, self.instrument.lowest),
            min(self.high + semitones, self.instrument.highest),
        )

    def holds(self, passage: Passage) -> bool:
        return all(
            self.low <= note.pitch <= self.high and playable(self.instrument, note.pitch)
            for note in passage.notes
        )


@lru_cache(maxsize=1024)
def playable(instrument: Instrument, pitch: int) -> bool:
    """Whether a fingering gives the note in tune; everything where no tubes are known."""
    if not instrument.reaches(pitch):
        return False
    found = candidates(instrument, pitch)
    return not instrument.tubes or any(not candidate.extra for candidate in found)


def comfortable_of(instrument: Instrument) -> tuple[int, int]:
    """The comfortable range of somebody who has not told theirs: the middle of the instrument's,
    without its lowest and highest fifth part.  An assumption, not a measurement: on the trumpet it
    comes to written C4 to F#5."""
    left_out = int(LEAVE_OUT_SHARE * (instrument.highest - instrument.lowest))
    row = Reach(instrument, instrument.lowest + left_out, instrument.highest - left_out).row()
    return row[0], row[-1]


def check_comfortable(instrument: Instrument, comfortable: tuple[int, int]) -> None:
    """ValueError unless it lies on the instrument and is a fifth wide with three notes in it."""
    low, high = comfortable
    if not (instrument.reaches(low) and instrument.reaches(high)):
        bounds = " to ".join(
            _written(instrument, p) for p in (instrument.lowest, instrument.highest)
        )
        raise ValueError(f"the {instrument.title} reaches from {bounds}, written")
    if high - low < LEAST_SEMITONES:
        raise ValueError("a comfortable range must be a fifth or wider, the lower note first")
    if len(Reach(instrument, low, high).row()) < LEAST_NOTES:
        raise ValueError(f"the {instrument.title} has fewer than {LEAST_NOTES} notes in that range")


def _written(instrument: Instrument, pitch: int) -> str:
    return name_of_midi(written_of_sounding(pitch, instrument.transposition))
