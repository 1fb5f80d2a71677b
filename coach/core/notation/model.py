"""The printable signs: what stands in a bar, note by note and rest by rest."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.core.passage import BarSpan

# Names as MusicXML has them; the value in quarter notes.
_NAMES = [
    "whole",
    "half",
    "quarter",
    "eighth",
    "16th",
    "32nd",
    "64th",
    "128th",
    "256th",
    "512th",
    "1024th",
]
VALUES = {name: Fraction(4, 2**power) for power, name in enumerate(_NAMES)}
MOST_DOTS = 2


@dataclass(frozen=True, slots=True)
class Tuplet:
    """`actual` notes in the time of `normal`; `group` counts the tuplets of the passage from 0."""

    group: int
    actual: int
    normal: int


@dataclass(frozen=True, slots=True)
class Sign:
    """One note or rest as printed, or the part of one between two ties.

    `note` is the place of the note in the passage, None for a rest.  `start_beats` counts from the
    start of the passage.  `value` is a name of `VALUES`.  `beams` holds one word a beam, thickest
    group first: "begin", "continue", "end", "forward hook" or "backward hook".  `whole_bar`: a rest
    that fills its bar whatever the meter, printed as a whole rest.
    """

    note: int | None
    start_beats: Fraction
    length_beats: Fraction
    value: str
    dots: int = 0
    tuplet: Tuplet | None = None
    starts_tuplet: bool = False
    ends_tuplet: bool = False
    tied_back: bool = False
    tied_on: bool = False
    beams: tuple[str, ...] = ()
    whole_bar: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.start_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """One bar: where it lies, and signs in order that fill it exactly."""

    span: BarSpan
    signs: tuple[Sign, ...]


def printed_value(beats: Fraction) -> tuple[str, int] | None:
    """The one value and its dots that last `beats` quarter notes; None if it takes two."""
    return _PRINTED.get(beats)


_PRINTED = {
    beats * (2 - Fraction(1, 2**dots)): (name, dots)
    for name, beats in VALUES.items()
    for dots in range(MOST_DOTS + 1)
}
