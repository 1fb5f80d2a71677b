"""What is to be played, in beats: notes of sounding pitch on an exact grid of quarter notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

# Air: the breath and the tongue alone, the valves moving; mouthpiece: buzzed on it.
WAYS = ("played", "air", "mouthpiece")


@dataclass(frozen=True, slots=True)
class Note:
    """One note: `pitch` is the sounding MIDI number, beats are quarter notes from the start.

    `slurred` means no tongue on this note: it is joined to the one before; `accent`, that it is to
    stand out.
    """

    pitch: int
    start_beats: Fraction
    length_beats: Fraction
    slurred: bool = False
    syllable: str | None = None
    fingering: str | None = None
    accent: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.start_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class Passage:
    """Notes in order of time, one at a time.

    `bar_beats` is the length of a bar and `pulse_beats` of one click, both in quarter notes
    (6/8 has bars of 3 and a pulse of 3/2); `fifths` (sharps > 0, flats < 0) spells the names.
    `way` is one of `WAYS`: what is not "played" is done in time with the click and not judged.
    `tempo_share`: it is taken at this share of the drill's tempo.
    """

    notes: tuple[Note, ...]
    title: str = ""
    bar_beats: Fraction = Fraction(4)
    pulse_beats: Fraction = Fraction(1)
    fifths: int = 0
    way: str = "played"
    tempo_share: float = 1.0

    def __post_init__(self) -> None:
        if self.way not in WAYS:
            raise ValueError(f"{self.way!r} is none of {', '.join(WAYS)}")
        for before, after in zip(self.notes, self.notes[1:], strict=False):
            if after.start_beats < before.end_beats:
                raise ValueError(f"notes overlap at beat {after.start_beats}")
        if any(note.length_beats <= 0 for note in self.notes):
            raise ValueError("a note has no length")

    @property
    def end_beats(self) -> Fraction:
        return self.notes[-1].end_beats if self.notes else Fraction(0)

    @property
    def length_beats(self) -> Fraction:
        """Whole bars that hold all notes."""
        bars = -(-self.end_beats // self.bar_beats)
        return bars * self.bar_beats

    def transposed(self, semitones: int) -> Passage:
        moved = tuple(replace(n, pitch=n.pitch + semitones) for n in self.notes)
        return replace(self, notes=moved)


def can_slur(before: Note | None, note: Note) -> bool:
    """Whether `note` can be slurred: another pitch sounds right up to it."""
    return (
        before is not None and before.end_beats == note.start_beats and before.pitch != note.pitch
    )


def in_a_row(
    pitches: Iterable[int | None], length_beats: Fraction, *, slurred: bool = False
) -> tuple[Note, ...]:
    """Notes of one length, one after the other; None is a rest.  Slurred: all but the first."""
    notes: list[Note] = []
    for place, pitch in enumerate(pitches):
        if pitch is not None:
            joined = slurred and bool(notes) and notes[-1].end_beats == place * length_beats
            notes.append(Note(pitch, place * length_beats, length_beats, joined))
    return tuple(notes)
