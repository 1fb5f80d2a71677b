"""Beams: the short notes of a beat under one beam, of half a 4/4 bar if they are all eighths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from coach.core.notation.model import VALUES, Sign
from coach.core.notation.tree import beats_of_bar
from coach.core.passage import BarSpan

_LEVELS = {name: place - 2 for place, name in enumerate(VALUES)}


def beam_count(sign: Sign) -> int:
    """How many beams (or flags) the sign's value has; 0 for rests and long notes."""
    return 0 if sign.note is None else max(0, _LEVELS[sign.value])


def beamed(span: BarSpan, signs: Sequence[Sign]) -> tuple[Sign, ...]:
    """The signs of one bar with their beams."""
    keys = _keys(span, signs)
    made: list[Sign] = []
    for (_, short), places in groupby(
        range(len(signs)), key=lambda place: (keys[place], beam_count(signs[place]) > 0)
    ):
        group = [signs[place] for place in places]
        made += _joined(group) if short and len(group) > 1 else group
    return tuple(made)


def _keys(span: BarSpan, signs: Sequence[Sign]) -> list[tuple[int, int]]:
    """What is under one beam has the same key: the beat, or the tuplet that fills several."""
    edges = _edges(span, signs)
    keys = []
    for sign in signs:
        beat = max(place for place, edge in enumerate(edges) if edge <= sign.start_beats)
        wide = sign.tuplet is not None and _width(sign, signs) > span.pulse_beats
        keys.append((-1, sign.tuplet.group) if wide and sign.tuplet else (beat, 0))
    return keys


def _width(sign: Sign, signs: Sequence[Sign]) -> Fraction:
    return sum((s.length_beats for s in signs if s.tuplet == sign.tuplet), Fraction(0))


def _edges(span: BarSpan, signs: Sequence[Sign]) -> list[Fraction]:
    """Where beats begin; two quarter beats of eighths that begin on a strong one are one."""
    edges, at = [], span.start_beats
    beats = beats_of_bar(span)
    for length in beats:
        edges.append(at)
        at += length
    if len(beats) % 2 or set(beats) != {Fraction(1)}:
        return edges
    weak = {
        edges[place]
        for place in range(1, len(edges), 2)
        if _eighths(edges[place - 1], edges[place - 1] + 2, signs)
    }
    return [edge for edge in edges if edge not in weak]


def _eighths(start: Fraction, end: Fraction, signs: Sequence[Sign]) -> bool:
    half = [s for s in signs if start <= s.start_beats < end]
    return len(half) == 4 and all(
        s.note is not None and s.value == "eighth" and not s.dots and s.tuplet is None for s in half
    )


def _joined(group: list[Sign]) -> list[Sign]:
    counts = [0, *(beam_count(sign) for sign in group), 0]
    return [
        replace(sign, beams=tuple(_word(level, counts, place) for level in range(1, now + 1)))
        for place, (sign, now) in enumerate(zip(group, counts[1:-1], strict=True), 1)
    ]


def _word(level: int, counts: list[int], place: int) -> str:
    before, after = counts[place - 1] >= level, counts[place + 1] >= level
    if before and after:
        return "continue"
    if after:
        return "begin"
    if before:
        return "end"
    return "forward hook" if place == 1 else "backward hook"
