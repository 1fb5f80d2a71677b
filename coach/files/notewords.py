"""Notes in words, as drill files spell them: "G4 1/8", "A4 1/8 slur", "Bb4 1/16 ta T1", "rest 1/4".

First the written pitch or `rest`, then the length as a fraction of a whole note, then in any order
at most one each of: slur (no tongue: joined to the note before), accent, a syllable in small
letters, a fingering (optional T or H for the thumb, then 0 or valve digits in order, or the
position of a slide, then + for a stopped horn).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from coach.core.passage import Note, can_slur
from coach.core.pitch import midi_of_name

NOTE_FORM = 'a note such as "G4 1/8", "A4 1/8 slur", "Bb4 1/16 accent ta T1" or "rest 1/4"'
# From a 128th in a quick tuplet of a real score to two of the longest bars.
SHORTEST_BEATS, LONGEST_BEATS = Fraction(1, 256), Fraction(32)
LENGTH_FORM = 'a fraction of a whole note from "1/1024" to "8/1", such as "1/16"'
FINGERING_FORM = (
    "0 or valve digits in order (for a slide its position, 1 to 7), with T or H before them for the"
    " thumb and + after them for stopped: 0, 12, T0, T23, 7, 2+"
)
WORDS = ("slur", "accent", "rest")
_FRACTION = re.compile(r"(\d{1,4})/(\d{1,4})")
_FINGERING = re.compile(r"[TH]?(?:[05-7]|(?=[1-4])1?2?3?4?)\+?")
_SYLLABLE = re.compile(r"[a-z]{1,6}")


def beats_of(text: str) -> Fraction:
    """Quarter notes in a fraction of a whole note; ValueError says what a fraction looks like."""
    found = _FRACTION.fullmatch(text.strip())
    if found and int(found.group(2)):
        beats = 4 * Fraction(int(found.group(1)), int(found.group(2)))
        if SHORTEST_BEATS <= beats <= LONGEST_BEATS:
            return beats
    raise ValueError(LENGTH_FORM)


def is_fingering(text: str) -> bool:
    return bool(_FINGERING.fullmatch(text))


def is_syllable(text: str) -> bool:
    return bool(_SYLLABLE.fullmatch(text)) and text not in WORDS


def note_of(text: str) -> tuple[Note | None, Fraction]:
    """One entry as a note at beat 0 (None for a rest) and its length; ValueError says what is
    allowed where it is wrong."""
    words = text.split()
    if len(words) < 2:
        raise ValueError(NOTE_FORM)
    length = beats_of(words[1])
    if words[0] == "rest":
        if len(words) > 2:
            raise ValueError('a rest with nothing but a length, such as "rest 1/4"')
        return None, length
    note = Note(_pitch(words[0]), Fraction(0), length)
    for word in words[2:]:
        note = _with_word(note, word)
    return note, length


def _pitch(name: str) -> int:
    try:
        return midi_of_name(name)
    except ValueError:
        raise ValueError(NOTE_FORM) from None


def _with_word(note: Note, word: str) -> Note:
    if word == "slur" and not note.slurred:
        return replace(note, slurred=True)
    if word == "accent" and not note.accent:
        return replace(note, accent=True)
    if is_fingering(word) and note.fingering is None:
        return replace(note, fingering=word)
    if is_syllable(word) and note.syllable is None:
        return replace(note, syllable=word)
    raise ValueError(f'{NOTE_FORM}; "{word}" fits nowhere')


def in_order(entries: Sequence[tuple[Note | None, Fraction]]) -> tuple[list[Note], Fraction]:
    """Notes one after the other, and the length of it all in beats.

    A slur needs a note right before it on another pitch; ValueError says which entry has none.
    """
    notes: list[Note] = []
    start = Fraction(0)
    for place, (note, length) in enumerate(entries):
        if note is not None:
            placed = replace(note, start_beats=start)
            if note.slurred and not can_slur(notes[-1] if notes else None, placed):
                raise ValueError(f"entry {place + 1} is slurred: put another pitch right before it")
            notes.append(placed)
        start += length
    return notes, start
