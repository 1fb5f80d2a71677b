"""Scores made by hand for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.pitch import Spelled
from coach.core.score.model import Frame, Head, Meter, Part, PartBar, Score, Signs


def head(name: str, onset, length, **more) -> Head:
    """ "F#4" at a place in its bar, in quarter notes."""
    letter, accidental, octave = name[0], name[1:-1], int(name[-1])
    alter = accidental.count("#") - accidental.count("b")
    return Head(Fraction(onset), Fraction(length), Spelled(letter, alter, octave), **more)


def bar(*heads: Head, voices=(), keys=()) -> PartBar:
    return PartBar(heads, voices, keys)


def score(
    *bars: PartBar,
    signs: Sequence[Signs] = (),
    lengths: Sequence[object] = (),
    meter: Meter | None = None,
    numbers: Sequence[str] = (),
    tempos: Sequence[tuple] = (),
    implicit: Sequence[int] = (),
) -> Score:
    """One part; bars numbered from 1 and full unless said otherwise."""
    meter = meter or Meter()
    frames = tuple(
        Frame(
            numbers[k] if numbers else str(k + 1),
            Fraction(lengths[k]) if lengths else meter.bar_beats,
            meter,
            k in implicit,
            signs[k] if signs else Signs(),
            tempos[k] if tempos else (),
        )
        for k in range(len(bars))
    )
    return Score("Invented", (Part("Horn", bars),), frames)
