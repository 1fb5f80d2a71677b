"""Lines made by hand for the tests: bars of 4/4 (or as said), numbered from 1."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.pitch import Spelled, name_of_midi
from coach.core.score.line import Line, LineNote, PlayedBar
from coach.core.score.model import Meter

# A note of a bar: written MIDI number (None: a rest), length in quarter notes, slurred or not.
Tone = tuple[int | None, object, bool]


def spelled(midi: int) -> Spelled:
    name = name_of_midi(midi)
    return Spelled(name[0], int("#" in name), int(name[-1]))


def even(pitches: Sequence[int | None], length, slurred: bool = False) -> list[Tone]:
    """Notes of one length; slurred: all but the first."""
    return [(pitch, length, slurred and k > 0) for k, pitch in enumerate(pitches)]


def line(
    *bars: Sequence[Tone],
    tempos: Sequence[tuple] = ((0, 120.0),),
    keys: Sequence[tuple] = ((0, 0),),
    numbers: Sequence[str] = (),
    indexes: Sequence[int] = (),
    transposition: int = -7,
    part: str = "Horn",
    meter: Meter | None = None,
) -> Line:
    """A line of full bars, all played once in order unless `indexes` says otherwise."""
    meter = meter or Meter()
    played, notes = [], []
    for place, tones in enumerate(bars):
        index = indexes[place] if indexes else place
        number = numbers[place] if numbers else str(index + 1)
        start = meter.bar_beats * place
        played.append(PlayedBar(index, number, start, meter.bar_beats, meter))
        at = Fraction(0)
        for pitch, length, slurred in tones:
            if pitch is not None:
                notes.append(
                    LineNote(
                        number, at + 1, start + at, Fraction(length), pitch + transposition,
                        spelled(pitch), slurred,
                    )
                )  # fmt: skip
            at += Fraction(length)
        assert at <= meter.bar_beats
    return Line(
        "Invented",
        part,
        transposition,
        tuple(notes),
        tuple(played),
        tuple((Fraction(at), value) for at, value in keys),
        tuple((Fraction(at), value) for at, value in tempos),
    )
