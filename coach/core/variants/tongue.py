"""The way to a tonguing pattern: the weak syllable made strong on one note, on a scale, then in the
passage.

The back syllable alone; on the beat in dotted rhythm; then the front one returns; then the pattern
as it is played (common practice, no source).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.core.patterns.keys import SCALES, Ladder, name_of_place, tonic_from
from coach.core.patterns.lines import run
from coach.core.variants.laying import Laid, laid, usual_length

PATTERNS = ("double", "ttk", "tkt", "tktktk")
# Twelve goes into every pattern; the last one more is held on the beat.
ON_ONE_NOTE = 25
STAGES = ("one note", "scale", "passage")


@dataclass(frozen=True, slots=True)
class _Rung:
    """One exercise: its name, syllables (t front, k back, - a rest) and lengths in units, gone
    round and over."""

    name: str
    letters: str
    units: tuple[Fraction, ...]


def _even(name: str, letters: str) -> _Rung:
    return _Rung(name, letters, (Fraction(1),) * len(letters))


_ALONE = _even("the back alone", "k")
_DOTTED = _Rung("the back on the beat, dotted", "kt", (Fraction(3, 2), Fraction(1, 2)))
_FLICK = _Rung(
    "the back on the beat, the front pair a flick",
    "ktt",
    (Fraction(2), Fraction(1, 2), Fraction(1, 2)),
)
_RUNGS = {
    "double": (
        _ALONE,
        _DOTTED,
        _even("the front returning: three even notes, the back on the beat", "ktk-"),
        _even("double", "tk"),
    ),
    "ttk": (_ALONE, _FLICK, _even("the back on the beat", "ktt"), _even("triple", "ttk")),
    "tkt": (_ALONE, _FLICK, _even("the back on the beat", "ktt"), _even("triple", "tkt")),
    "tktktk": (_ALONE, _DOTTED, _even("the back on the beat", "ktk-"), _even("triple", "tktktk")),
}


def tonguing(
    passage: Passage, pattern: str = "double", front: str = "ta", back: str = "ka"
) -> tuple[Passage, ...]:
    """Twelve passages: the four rungs of the pattern on one note, on a scale in the passage's key,
    and on the pitches of the passage.

    ValueError for a pattern that is none of PATTERNS.
    """
    if pattern not in PATTERNS:
        raise ValueError(f"the pattern is one of {', '.join(PATTERNS)}, not {pattern}")
    unit = _unit(passage, pattern)
    return tuple(
        _laid(passage, line, rung, unit, (front, back), f"{stage}: {rung.name}")
        for stage, line in zip(STAGES, _lines(passage), strict=True)
        for rung in _RUNGS[pattern]
    )


def _unit(passage: Passage, pattern: str) -> Fraction:
    """The length of an even note: of double tonguing as the passage has it, of triple a third of a
    click (or a sixth where the passage is as quick as that)."""
    usual = usual_length(passage)
    if pattern == "double":
        return usual
    third = passage.pulse_beats / 3
    return third / 2 if usual < third * Fraction(3, 4) else third


def _lines(passage: Passage) -> tuple[list[int], list[int], list[int]]:
    pitches = [note.pitch for note in passage.notes]
    usual = Counter(pitches).most_common(1)[0][0]
    return [usual] * ON_ONE_NOTE, _scale(passage), pitches


def _scale(passage: Passage) -> list[int]:
    """The passage's key from its first key note on, up and down, no higher than the passage."""
    low = min(note.pitch for note in passage.notes)
    high = max(note.pitch for note in passage.notes)
    tonic = tonic_from(name_of_place(passage.fifths), low)
    ladder = Ladder(tonic if tonic <= high else low, SCALES["major"].up)
    rungs = max((k for k in range(1, 8) if ladder.at(k) <= high), default=0)
    return run((ladder, ladder), rungs) if rungs else [low] * 8


def _laid(
    passage: Passage,
    line: list[int],
    rung: _Rung,
    unit: Fraction,
    spoken: tuple[str, str],
    title: str,
) -> Passage:
    """The pitches in the rung's rhythm; the last one is held on the front syllable."""
    row: list[Laid] = []
    left = list(line)
    place = 0
    while left:
        letter = rung.letters[place % len(rung.letters)]
        length = unit * rung.units[place % len(rung.letters)]
        note = None if letter == "-" else _note(left.pop(0), spoken[letter == "k"])
        row.append((note, length))
        place += 1
    last = row[-1][0]
    assert last is not None
    row[-1] = replace(last, syllable=spoken[rung is _ALONE]), row[-1][1]
    return laid(passage, row, f"{title[:1].upper()}{title[1:]}")


def _note(pitch: int, syllable: str) -> Note:
    return Note(pitch, Fraction(0), Fraction(1), syllable=syllable)
