"""The way to a tonguing pattern: the weak syllable made strong on one note, on a scale, then in the
passage.

The back syllable alone; on the beat in dotted rhythm; then the front one returns; then the pattern
as it is played (common practice, no source).
"""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.core.patterns.keys import SCALES, Ladder, name_of_place, tonic_from
from coach.core.variants.laying import Laid, laid, usual_length

PATTERNS = ("double", "ttk", "tkt", "tktktk")
# Twelve goes into every pattern; the last one more is held on the beat.
ON_ONE_NOTE = 25
STAGES = ("one note", "scale", "passage")


@dataclass(frozen=True, slots=True)
class _Rung:
    """One exercise: its name, syllables (t front, k back, - a rest) and lengths in units, gone
    round and over.  Each note of a scale is said `each` times, so that every step of it begins the
    figure anew."""

    name: str
    letters: str
    units: tuple[Fraction, ...]
    each: int

    @property
    def alone(self) -> bool:
        return self.letters == "k"


def _even(name: str, letters: str, each: int) -> _Rung:
    return _Rung(name, letters, (Fraction(1),) * len(letters), each)


_FLICK = _Rung(
    "the back on the beat, the front pair a flick",
    "ktt",
    (Fraction(2), Fraction(1, 2), Fraction(1, 2)),
    3,
)


def _triple(order: str, name: str, back_first: str) -> tuple[_Rung, ...]:
    alone = _even("the back alone", "k", 3)
    return alone, _FLICK, _even(name, back_first, 3), _even("triple", order, 3)


_RUNGS = {
    "double": (
        _even("the back alone", "k", 2),
        _Rung("the back on the beat, dotted", "kt", (Fraction(3, 2), Fraction(1, 2)), 2),
        _even("the front returning: three even notes, the back on the beat", "ktk-", 3),
        _even("double", "tk", 2),
    ),
    "ttk": _triple("ttk", "the back on the beat", "ktt"),
    "tkt": _triple("tkt", "the back on the beat", "ktt"),
    "tktktk": _triple("tktktk", "the back on every other beat", "ktktkt"),
}


def tonguing(
    passage: Passage, pattern: str = "double", front: str = "ta", back: str = "ka"
) -> tuple[Passage, ...]:
    """Twelve passages: the four rungs of the pattern on one note, on a scale in the passage's key,
    and on the notes of the passage, all of them tongued and even.

    ValueError for a pattern that is none of PATTERNS.
    """
    if pattern not in PATTERNS:
        raise ValueError(f"the pattern is one of {', '.join(PATTERNS)}, not {pattern}")
    unit = _unit(passage, pattern)
    return tuple(
        _laid(passage, _line(passage, stage, rung), rung, unit, (front, back), stage)
        for stage in STAGES
        for rung in _RUNGS[pattern]
    )


def _unit(passage: Passage, pattern: str) -> Fraction:
    """The length of an even note: of triple tonguing a third of a click (or a sixth where the
    passage is as quick as that); of double as the passage has it, or the next longer one of which
    an even number fills a click."""
    usual, pulse = usual_length(passage), passage.pulse_beats
    if pattern != "double":
        third = pulse / 3
        return third / 2 if usual < third * Fraction(3, 4) else third
    if _divides(2 * usual, pulse):
        return usual
    return pulse / max(2, pulse // usual // 2 * 2)


def _divides(a: Fraction, b: Fraction) -> bool:
    return a % b == 0 or b % a == 0


def _line(passage: Passage, stage: str, rung: _Rung) -> list[Note]:
    if stage == "passage":
        return [replace(note, slurred=False, accent=False) for note in passage.notes]
    pitches = [note.pitch for note in passage.notes]
    if stage == "one note":
        line = [Counter(pitches).most_common(1)[0][0]] * ON_ONE_NOTE
    else:
        *steps, last = _scale(passage.fifths, min(pitches), max(pitches))
        line = [pitch for pitch in steps for _ in range(rung.each)] + [last]
    return [Note(pitch, Fraction(0), Fraction(1)) for pitch in line]


def _scale(fifths: int, low: int, high: int) -> list[int]:
    """The notes of the key up and down between two pitches, an octave at most: from a key note if a
    fifth above it is inside, else from the lowest note of the key.  One pitch over and over where
    there is no room for two."""
    key = Ladder(tonic_from(name_of_place(fifths), low), SCALES["major"].up)
    first = next(k for k in range(-7, 1) if key.at(k) >= low) if key.at(4) > high else 0
    rising = [key.at(k) for k in range(first, first + 8) if key.at(k) <= high]
    return rising + rising[-2::-1] if len(rising) > 1 else [low] * 9


def _laid(
    passage: Passage,
    line: list[Note],
    rung: _Rung,
    unit: Fraction,
    spoken: tuple[str, str],
    stage: str,
) -> Passage:
    """The notes in the rung's rhythm; the last one is held on the front syllable, unless the back
    is alone."""
    row: list[Laid] = []
    strokes = itertools.cycle(zip(rung.letters, rung.units, strict=True))
    left = line[::-1]
    while left:
        letter, units = next(strokes)
        if letter == "-":
            row.append((None, _rest(row, unit, passage.pulse_beats)))
            continue
        note = left.pop()
        back = rung.alone or (letter == "k" and bool(left))
        row.append((replace(note, syllable=spoken[back]), unit * units))
    return laid(passage, row, f"{stage[:1].upper()}{stage[1:]}: {rung.name}")


def _rest(row: list[Laid], unit: Fraction, pulse_beats: Fraction) -> Fraction:
    """One unit; to the next click where four units would soon leave the beat."""
    if _divides(4 * unit, pulse_beats):
        return unit
    at = sum((length for _, length in row), Fraction(0))
    return -at % pulse_beats or unit
