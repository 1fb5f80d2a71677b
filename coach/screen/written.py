"""A passage in words, bar by bar, as it will stand in a drill file."""

from __future__ import annotations

import textwrap
from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.core.pitch import name_of_midi, written_of_sounding

BETWEEN = "   "
# A blank at which no row ends.
TIED = "\N{NO-BREAK SPACE}"


def passage_lines(passage: Passage, transposition: int, width: int | None = None) -> list[str]:
    """One line a bar: written notes with their lengths as fractions of a whole note; with a `width`
    in as many rows as that takes.

    A note that lasts over the bar line is named once, where it starts, with an arrow.
    """
    lines = []
    for number, bar in enumerate(passage.bars, passage.first_bar):
        words = _bar(passage, bar.start_beats, bar.end_beats, transposition)
        lines += _rows(f"bar {number}:  ", words, width)
    return lines


def _rows(start: str, words: list[str], width: int | None) -> list[str]:
    """Notes stay beside their lengths."""
    if width is None:
        return [start + BETWEEN.join(words)]
    text = BETWEEN.join(word.replace(" ", TIED) for word in words)
    indent = " " * len(start)
    rows = textwrap.wrap(text, width, initial_indent=start, subsequent_indent=indent)
    return [row.replace(TIED, " ") for row in rows or [start.rstrip()]]


def _bar(passage: Passage, start: Fraction, end: Fraction, transposition: int) -> list[str]:
    words, at = [], start
    for note in passage.notes:
        if note.end_beats <= start or note.start_beats >= end:
            continue
        if note.start_beats < start:
            words.append("(held)")
        else:
            words += _rest(note.start_beats - at)
            words.append(_word(note, passage.fifths, transposition, over=note.end_beats > end))
        at = note.end_beats
    return words + _rest(end - at)


def _rest(beats: Fraction) -> list[str]:
    return [f"rest {beats / 4}"] if beats > 0 else []


def _word(note: Note, fifths: int, transposition: int, *, over: bool) -> str:
    name = name_of_midi(written_of_sounding(note.pitch, transposition), fifths)
    slur = " slur" if note.slurred else ""
    return f"{name} {note.length_beats / 4}{slur}{' ->' if over else ''}"
