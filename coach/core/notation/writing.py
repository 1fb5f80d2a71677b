"""A passage cut into bars of printable signs."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.notation.beams import beamed
from coach.core.notation.cutting import cuts
from coach.core.notation.model import Sign, Tuplet, WrittenBar, printed_value
from coach.core.notation.tree import Stretch, bar_stretch
from coach.core.notation.tuplets import Region, regions
from coach.core.passage import BarSpan, Passage


@dataclass(frozen=True, slots=True)
class _Piece:
    """What sounds (or rests: note None) from start to end, counted from the start of the bar."""

    note: int | None
    start: Fraction
    end: Fraction


def notated(passage: Passage) -> tuple[WrittenBar, ...]:
    """The bars of the passage as signs that fill them exactly; tied signs join to its notes.

    ValueError where no note value is short enough, or a bar has a length that no meter gives.
    """
    groups, made, first = itertools.count(), [], 0
    for span in passage.bars:
        while first < len(passage.notes) and (passage.notes[first].end_beats <= span.start_beats):
            first += 1
        signs = _bar(span, list(_pieces(passage, span, first)), groups)
        made.append(WrittenBar(span, beamed(span, _tied(passage, signs))))
    return tuple(made)


def _pieces(passage: Passage, span: BarSpan, first: int) -> Iterator[_Piece]:
    """Notes, from the one numbered `first`, and the rests between them."""
    at, length = Fraction(0), span.end_beats - span.start_beats
    for place in range(first, len(passage.notes)):
        note = passage.notes[place]
        if note.start_beats >= span.end_beats:
            break
        start = max(note.start_beats - span.start_beats, Fraction(0))
        end = min(note.end_beats - span.start_beats, length)
        if start > at:
            yield _Piece(None, at, start)
        yield _Piece(place, start, end)
        at = end
    if at < length:
        yield _Piece(None, at, length)


def _bar(span: BarSpan, pieces: list[_Piece], groups: Iterator[int]) -> list[Sign]:
    length = span.end_beats - span.start_beats
    if len(pieces) == 1 and pieces[0].note is None:
        return [Sign(None, span.start_beats, length, "whole", whole_bar=True)]
    whole = bar_stretch(span)
    points = [Fraction(0), *(piece.end for piece in pieces)]
    signs: list[Sign] = []
    at = Fraction(0)
    for region in regions(whole, points):
        signs += _plain(pieces, whole, at, region.start)
        signs += _in_tuplet(pieces, region, next(groups))
        at = region.end
    signs += _plain(pieces, whole, at, length)
    return [replace(sign, start_beats=sign.start_beats + span.start_beats) for sign in signs]


def _within(pieces: list[_Piece], start: Fraction, end: Fraction) -> Iterator[_Piece]:
    for piece in pieces:
        inside = replace(piece, start=max(piece.start, start), end=min(piece.end, end))
        if inside.start < inside.end:
            yield inside


def _plain(pieces: list[_Piece], whole: Stretch, start: Fraction, end: Fraction) -> Iterator[Sign]:
    for piece in _within(pieces, start, end):
        at = piece.start
        for cut in cuts(piece.start, piece.end, whole, piece.note is None):
            yield _sign(piece.note, at, cut - at, cut - at)
            at = cut


def _in_tuplet(pieces: list[_Piece], region: Region, group: int) -> list[Sign]:
    tuplet = Tuplet(group, region.actual, region.normal)
    whole = Stretch(Fraction(0), region.nominal(region.end))
    signs = []
    for piece in _within(pieces, region.start, region.end):
        at, end = region.nominal(piece.start), region.nominal(piece.end)
        for cut in cuts(at, end, whole, piece.note is None):
            length = region.beats(cut) - region.beats(at)
            sign = _sign(piece.note, region.beats(at), length, cut - at)
            signs.append(replace(sign, tuplet=tuplet))
            at = cut
    signs[0] = replace(signs[0], starts_tuplet=True)
    signs[-1] = replace(signs[-1], ends_tuplet=True)
    return signs


def _sign(note: int | None, start: Fraction, length: Fraction, nominal: Fraction) -> Sign:
    printed = printed_value(nominal)
    if printed is None:
        raise ValueError(f"no note value lasts {nominal} of a beat")
    return Sign(note, start, length, *printed)


def _tied(passage: Passage, signs: list[Sign]) -> list[Sign]:
    made = []
    for sign in signs:
        if sign.note is None:
            made.append(sign)
            continue
        note = passage.notes[sign.note]
        back, on = sign.start_beats > note.start_beats, sign.end_beats < note.end_beats
        made.append(replace(sign, tied_back=back, tied_on=on))
    return made
