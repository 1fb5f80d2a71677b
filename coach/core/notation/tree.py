"""The parts of a bar: a bar falls into halves or beats, a beat into halves or thirds, and so on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coach.core.passage import BarSpan

BEAT = Fraction(1)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a bar and its `lengths`, those of the parts that it falls into; `beats` is the
    number of beats in it, 0 inside a beat."""

    start: Fraction
    end: Fraction
    beats: int = 0
    lengths: tuple[Fraction, ...] = ()

    @property
    def length(self) -> Fraction:
        return self.end - self.start

    @property
    def parts(self) -> tuple[Stretch, ...]:
        """The parts in order; at least two."""
        made, at = [], self.start
        for length, beats in _divided(self):
            made.append(Stretch(at, at + length, *beats))
            at += length
        return tuple(made)

    @property
    def inner(self) -> tuple[Fraction, ...]:
        """The places where it is divided."""
        return tuple(part.start for part in self.parts[1:])


def is_dyadic(number: Fraction) -> bool:
    """Whether halving alone leads there, from whole numbers."""
    return number.denominator & (number.denominator - 1) == 0


def odd_part(number: int) -> int:
    """What is left of a whole number above 0 when it is halved as often as it goes."""
    return number // (number & -number)


def beats_of_bar(span: BarSpan) -> tuple[Fraction, ...]:
    """The lengths of what is felt as one beat and beamed together: the clicks, those shorter than
    a quarter note in twos (fours ...), the last with what is left: 7/8 is 2+2+3 (common practice,
    no source)."""
    length = span.end_beats - span.start_beats
    beat = max(span.pulse_beats, span.pulse_beats * (BEAT // span.pulse_beats))
    count = max(1, int(length // beat))
    return (*(beat,) * (count - 1), length - beat * (count - 1))


def bar_stretch(span: BarSpan) -> Stretch:
    """The bar, counted from its own start."""
    lengths = beats_of_bar(span)
    return Stretch(Fraction(0), sum(lengths, Fraction(0)), len(lengths), lengths)


def _divided(whole: Stretch) -> Sequence[tuple[Fraction, tuple[int, tuple[Fraction, ...]]]]:
    """The parts as length and (beats, lengths)."""
    if whole.beats > 1:
        groups = _grouped(whole.lengths)
        return [(sum(group, Fraction(0)), (len(group), group)) for group in groups]
    parts = odd_part(whole.length.numerator)
    parts = 2 if parts == 1 else parts
    return [(whole.length / parts, (0, ()))] * parts


def _grouped(lengths: tuple[Fraction, ...]) -> list[tuple[Fraction, ...]]:
    """Even numbers of like beats above two fall into halves, all others into beats."""
    half = len(lengths) // 2
    if half > 1 and len(lengths) % 2 == 0 and len(set(lengths)) == 1:
        return [lengths[:half], lengths[half:]]
    return [(length,) for length in lengths]
