"""Passages for tests: any lengths, meters that change, rests, and bars in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from coach.core.notation import Sign, WrittenBar
from coach.core.passage import MeterChange, Note, Passage
from coach.core.patterns.layout import pulse_of_meter

METERS = st.sampled_from(
    [
        *((1, 4), (2, 4), (3, 4), (4, 4), (5, 4), (6, 4), (2, 2)),
        *((3, 8), (4, 8), (5, 8), (6, 8), (7, 8), (9, 8), (12, 8), (7, 16), (9, 16)),
    ]
)
# Two of them in one beat never need notes shorter than there are.
GRIDS = [Fraction(1, n) for n in (1, 2, 3, 4, 5, 6, 7, 8, 9, 12)]


@st.composite
def passages(draw, low=50, high=70, most=14):
    """Notes on two grids, some after a rest, some slurred, in meters that change."""
    notes, at = [], Fraction(0)
    grids = st.sampled_from(draw(st.lists(st.sampled_from(GRIDS), min_size=2, max_size=2)))
    for pitch in draw(st.lists(st.integers(low, high), min_size=1, max_size=most)):
        at += draw(st.sampled_from([0, 0, 0, 1, 3, 17])) * draw(grids)
        length = draw(st.integers(1, 12)) * draw(grids)
        before = notes[-1] if notes else None
        can = before is not None and before.end_beats == at and before.pitch != pitch
        notes.append(Note(pitch, at, length, can and draw(st.booleans())))
        at += length
    (count, unit), *later = draw(st.lists(METERS, min_size=1, max_size=3))
    bar = Fraction(4 * count, unit)
    passage = Passage(
        tuple(notes), "", bar, pulse_of_meter(count, unit), fifths=draw(st.integers(-7, 7))
    )
    start, changes = Fraction(0), []
    for count, unit in later:
        start += draw(st.integers(1, 3)) * bar
        bar = Fraction(4 * count, unit)
        changes.append(MeterChange(start, bar, pulse_of_meter(count, unit)))
    return replace(passage, changes=tuple(changes))


def lengths(words: str, meter: str = "4/4") -> Passage:
    """Notes of these lengths in quarter notes, one after the other; "r1/2" is a rest."""
    notes, at = [], Fraction(0)
    for word in words.split():
        length = Fraction(word.lstrip("r"))
        if not word.startswith("r"):
            notes.append(Note(60, at, length))
        at += length
    count, unit = map(int, meter.split("/"))
    return Passage(tuple(notes), "", Fraction(4 * count, unit), pulse_of_meter(count, unit))


SHORT = {"whole": "1", "half": "2", "quarter": "4", "eighth": "8"}


def in_words(bars: Sequence[WrittenBar]) -> str:
    """Such as "4 8. r16 3:2(8 8 8) 2~ | 2": values as fractions of a whole note, ~ is a tie."""
    return " | ".join(" ".join(_word(sign) for sign in bar.signs) for bar in bars)


def _word(sign: Sign) -> str:
    word = SHORT.get(sign.value, sign.value[:-2]) + "." * sign.dots
    word = ("r" if sign.note is None else "") + word + ("~" if sign.tied_on else "")
    if sign.tuplet and sign.starts_tuplet:
        word = f"{sign.tuplet.actual}:{sign.tuplet.normal}({word}"
    return word + (")" if sign.ends_tuplet else "")
