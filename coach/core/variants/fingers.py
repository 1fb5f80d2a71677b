"""For the fingers: each exchange alone, and slurring before tonguing."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace

from coach.core.fingering.moves import move_between
from coach.core.naming import note_name
from coach.core.passage import Note, Passage, can_slur
from coach.core.variants.laying import joined_title, laid, usual_length

ROUNDS = 4
# Pitch and fingering of the lower note, then of the higher one.
_Pair = tuple[int, str | None, int, str | None]


def exchanges(passage: Passage, most: int = 4) -> tuple[Passage, ...]:
    """The `most` frequent finger exchanges of the passage, of equals the one that comes first, each
    to and fro: slurred, so that nothing hides the fingers, then tongued.

    With fingerings on the notes an exchange is a move that lifts one valve while it presses
    another; without, every move between two pitches counts.  Names are those of the numbers in the
    passage, written or sounding alike.
    """
    counts: Counter[_Pair] = Counter()
    found: dict[_Pair, tuple[Note, Note]] = {}
    for low, high in _exchanges(passage):
        pair = (low.pitch, low.fingering, high.pitch, high.fingering)
        counts[pair] += 1
        found.setdefault(pair, (low, high))
    pairs = [found[pair] for pair, _ in counts.most_common(most)]
    return tuple(
        _to_and_fro(passage, pair, slurred=slurred) for pair in pairs for slurred in (True, False)
    )


def _exchanges(passage: Passage) -> list[tuple[Note, Note]]:
    """The lower and the higher note of each, as fingered there."""
    fingered = any(note.fingering for note in passage.notes)
    return [
        (a, b) if a.pitch < b.pitch else (b, a)
        for a, b in itertools.pairwise(passage.notes)
        if a.pitch != b.pitch and (not fingered or _is_exchange(a, b))
    ]


def _is_exchange(before: Note, after: Note) -> bool:
    """Whether one valve is lifted while another is pressed (T1 to T23, but not 1 to 12)."""
    move = move_between(before.fingering, after.fingering)
    return move is not None and move.exchanges


def _to_and_fro(passage: Passage, pair: tuple[Note, Note], *, slurred: bool) -> Passage:
    unit = usual_length(passage)
    first, second = (replace(note, syllable=None, accent=False) for note in pair)
    row = [first, *(second if k % 2 == 0 else first for k in range(2 * ROUNDS))]
    notes = [replace(note, slurred=slurred and k > 0) for k, note in enumerate(row)]
    names = " and ".join(note_name(note.pitch, passage.fifths) for note in pair)
    words = f"{names}, {'slurred' if slurred else 'tongued'}"
    return laid(passage, [(note, unit) for note in notes], joined_title(passage, words))


def slur_then_tongue(passage: Passage) -> tuple[Passage, ...]:
    """All under one slur (a repeated note is tongued softly), then all tongued."""
    return (
        _articulated(passage, slurred=True, words="all slurred"),
        _articulated(passage, slurred=False, words="all tongued"),
    )


def _articulated(passage: Passage, *, slurred: bool, words: str) -> Passage:
    before = (None, *passage.notes)
    notes = [
        replace(note, slurred=slurred and can_slur(last, note), syllable=None)
        for last, note in zip(before, passage.notes, strict=False)
    ]
    return replace(passage, notes=tuple(notes), title=joined_title(passage, words))
