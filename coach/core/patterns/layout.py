"""Layout: a row of pitches in rhythm, with slurs and syllables, ending at the end of a bar."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import Note, Passage, can_slur
from coach.core.pitch import moved_key


@dataclass(frozen=True, slots=True)
class Layout:
    """How pitches become notes.

    `rhythm_beats` and `slur_groups` are gone round over and over: slur groups (2, 1, 1) are two
    slurred, two tongued; none at all puts everything under one slur.  `syllables` go to the
    tongued notes in turn.  `hold` lengthens the last note to the end of its bar.
    """

    rhythm_beats: tuple[Fraction, ...]
    bar_beats: Fraction = Fraction(4)
    pulse_beats: Fraction = Fraction(1)
    slur_groups: tuple[int, ...] = (1,)
    syllables: tuple[str, ...] = ()
    hold: bool = True


def pulse_of_meter(count: int, unit: int) -> Fraction:
    """One click in quarter notes: a dotted note where eighths or shorter go in threes (6/8: 3/2),
    else the meter's own unit."""
    compound = unit >= 8 and count % 3 == 0 and count > 3
    return Fraction(4, unit) * (3 if compound else 1)


def meters_as_long(
    bar_beats: Fraction, pulse_beats: Fraction, units: Sequence[int], most: int
) -> list[tuple[int, int]]:
    """The meters (count, unit) with bars of that length, of `most` counts at most: those that click
    in `pulse_beats` first, then by the order of `units`."""
    counts = [(bar_beats * unit / 4, unit) for unit in units]
    fits = [(int(n), unit) for n, unit in counts if n.denominator == 1 and 1 <= n <= most]
    return sorted(fits, key=lambda meter: pulse_of_meter(*meter) != pulse_beats)


def lay(line: Sequence[int | None], layout: Layout, *, title: str = "", fifths: int = 0) -> Passage:
    """A row of pitches (None is a rest) in the layout's rhythm."""
    notes = _in_rhythm(line, layout)
    notes = _articulated(notes, layout)
    passage = Passage(tuple(notes), title, layout.bar_beats, layout.pulse_beats, fifths)
    return held(passage) if layout.hold else passage


def _in_rhythm(line: Sequence[int | None], layout: Layout) -> list[Note]:
    notes, start = [], Fraction(0)
    for pitch, length in zip(line, itertools.cycle(layout.rhythm_beats), strict=False):
        if pitch is not None:
            notes.append(Note(pitch, start, length))
        start += length
    return notes


def _articulated(notes: Sequence[Note], layout: Layout) -> list[Note]:
    """A slur never joins across a rest or onto the same pitch: that would be no new note."""
    joins = _joins(layout.slur_groups)
    syllables = itertools.cycle(layout.syllables or (None,))
    made: list[Note] = []
    for note in notes:
        before = made[-1] if made else None
        slurred = next(joins) and can_slur(before, note)
        made.append(replace(note, slurred=slurred, syllable=None if slurred else next(syllables)))
    return made


def _joins(groups: tuple[int, ...]) -> Iterator[bool]:
    if not groups:
        return itertools.chain((False,), itertools.repeat(True))
    one_round = [place > 0 for size in groups for place in range(size)]
    return itertools.cycle(one_round)


def held(passage: Passage) -> Passage:
    """The last note lengthened to the end of its bar."""
    *before, last = passage.notes
    last = replace(last, length_beats=passage.length_beats - last.start_beats)
    return replace(passage, notes=(*before, last))


def moved(passage: Passage, semitones: int) -> Passage:
    """The same passage elsewhere, its key moved along; fingerings hold for one place only."""
    if semitones == 0:
        return passage
    fifths = moved_key(passage.fifths, semitones)
    notes = tuple(replace(note, fingering=None) for note in passage.notes)
    return replace(passage, notes=notes, fifths=fifths).transposed(semitones)


def returning(figure: Passage, length_beats: Fraction, moves: Sequence[int]) -> Passage:
    """A figure played once for each of `moves` (semitones), `length_beats` apart."""
    notes: list[Note] = []
    for place, semitones in enumerate(moves):
        for note in moved(figure, semitones).notes:
            notes.append(replace(note, start_beats=note.start_beats + place * length_beats))
    return replace(figure, notes=tuple(notes))
