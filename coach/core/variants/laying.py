"""What the generators share: notes laid one after the other, and pieces cut out of a passage."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from coach.core.passage import Note, Passage, bar_index, can_slur, from_bar
from coach.core.patterns.layout import held

Laid = tuple[Note | None, Fraction]


def laid(passage: Passage, row: Sequence[Laid], title: str) -> Passage:
    """Notes (None: a rest) of these lengths in beats, one after the other, the last one held to the
    end of its bar; meter and key of `passage`.  A slur needs another pitch right before it."""
    notes: list[Note] = []
    at = Fraction(0)
    for note, length in row:
        if note is not None:
            made = replace(note, start_beats=at, length_beats=length)
            slurred = note.slurred and can_slur(notes[-1] if notes else None, made)
            notes.append(replace(made, slurred=slurred))
        at += length
    return held(replace(passage, notes=tuple(notes), title=title, changes=(), first_bar=1))


def cut(passage: Passage, first: int, count: int, title: str) -> Passage:
    """`count` notes from `first` on, where they stand in the bar; the last one is held."""
    until = replace(passage, notes=passage.notes[: first + count])
    moved = from_bar(until, bar_index(until.bars, until.notes[first].start_beats))
    notes = moved.notes[first - len(until.notes) :]
    notes = (replace(notes[0], slurred=False), *notes[1:])
    return held(replace(moved, notes=notes, title=title))


def usual_length(passage: Passage) -> Fraction:
    """The length in beats that most of the notes have; of two, the shorter."""
    counts = Counter(note.length_beats for note in passage.notes)
    return min(counts, key=lambda length: (-counts[length], length))


def joined_title(passage: Passage, words: str) -> str:
    """ "C major: in pairs"."""
    return f"{passage.title}: {words}" if passage.title else words[:1].upper() + words[1:]


def place_of(passage: Passage, index: int) -> str:
    """Where a note stands, as players say it: "bar 2, note 5"."""
    bars = passage.bars
    bar = bar_index(bars, passage.notes[index].start_beats)
    first = next(
        k for k, note in enumerate(passage.notes) if note.start_beats >= bars[bar].start_beats
    )
    return f"bar {passage.first_bar + bar}, note {index - first + 1}"
