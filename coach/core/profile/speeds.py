"""How fast the notes of an exercise are tongued, and how, as far as it tells of a limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from coach.core.exercise import Exercise
from coach.core.findings.facts import is_back
from coach.core.passage import Note

# A quick note or two by itself can be played beyond what can be kept up (common practice, no
# source): a beat of sixteenths is the least that tells of a limit.
FEWEST_EVEN = 4


def speeds_of(exercise: Exercise) -> list[tuple[str, float] | None]:
    """For each note what it is played with ("single", "double", "triple" or "slurred") and how many
    such notes come in a second; None outside rows of at least `FEWEST_EVEN` even notes, and where
    the stroke is not known: no syllables shown, or back ones alone."""
    passage = exercise.passage
    pulses_hz = exercise.tempo_bpm / 60
    found: list[tuple[str, float] | None] = []
    for row in _even_rows(passage.notes):
        stroke = _stroke(row) if len(row) >= FEWEST_EVEN else None
        rate_hz = pulses_hz * float(passage.pulse_beats / row[0].length_beats)
        found += [(stroke, rate_hz) if stroke else None] * len(row)
    return found


def _even_rows(notes: Sequence[Note]) -> Iterator[list[Note]]:
    """Notes of one length without rests between, all tongued or all slurred."""
    row: list[Note] = list(notes[:1])
    for before, note in pairwise(notes):
        if _goes_on(before, note):
            row.append(note)
        else:
            yield row
            row = [note]
    if row:
        yield row


def _goes_on(before: Note, note: Note) -> bool:
    return (
        before.end_beats == note.start_beats
        and before.length_beats == note.length_beats
        and before.slurred == note.slurred
    )


def _stroke(row: Sequence[Note]) -> str | None:
    """Triple has two front syllables next to each other; front and back by turns are the strokes
    of double tonguing, whatever the beat."""
    if row[0].slurred:
        return "slurred"
    if not all(note.syllable for note in row):
        return None
    backs = [is_back(note.syllable or "") for note in row]
    if not any(backs):
        return "single"
    if all(backs):
        return None
    return "triple" if any(not a and not b for a, b in pairwise(backs)) else "double"
