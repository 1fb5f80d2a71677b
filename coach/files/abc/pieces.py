"""A passage cut at its bar lines into pieces that ABC can write: plain lengths, tuplets, ties."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import BarSpan, Note, Passage

# Beyond fifteen no tuplet can be read; such a length is written as the fraction that it is.
MOST_IN_TUPLET = 15


@dataclass(frozen=True, slots=True)
class Piece:
    """A note, or a part of one, inside one bar; `note` None is a rest.

    `place` is that of the note in the passage, `onset` counts quarter notes from the bar's start;
    `first`, `last`: this piece begins, ends its note.  `written`: the length as it is written, in
    a tuplet another than it lasts.  `tuplet`, where one begins: notes, in the time of, count.
    """

    onset: Fraction
    length: Fraction
    written: Fraction
    note: Note | None = None
    place: int = -1
    first: bool = True
    last: bool = True
    tuplet: tuple[int, int, int] | None = None


def pieces_by_bar(passage: Passage) -> list[list[Piece]]:
    """The pieces of each bar; together they fill it."""
    made: list[list[Piece]] = []
    notes, at = list(enumerate(passage.notes)), 0
    for bar in passage.bars:
        while at < len(notes) and notes[at][1].end_beats <= bar.start_beats:
            at += 1
        end = at
        while end < len(notes) and notes[end][1].start_beats < bar.end_beats:
            end += 1
        made.append(_with_tuplets(list(_filled(notes[at:end], bar))))
    return made


def _filled(notes: Sequence[tuple[int, Note]], bar: BarSpan) -> Iterator[Piece]:
    """Notes cut to the bar, with rests between."""
    at = bar.start_beats
    for place, note in notes:
        start, end = max(note.start_beats, bar.start_beats), min(note.end_beats, bar.end_beats)
        if start > at:
            yield _piece(bar, at, start)
        first, last = start == note.start_beats, end == note.end_beats
        piece = _piece(bar, start, end)
        yield replace(piece, note=note, place=place, first=first, last=last)
        at = end
    if at < bar.end_beats:
        yield _piece(bar, at, bar.end_beats)


def _piece(bar: BarSpan, start: Fraction, end: Fraction) -> Piece:
    return Piece(start - bar.start_beats, end - start, end - start)


def _odd(number: int) -> int:
    """The number without its factors of two."""
    return number // (number & -number)


def _with_tuplets(pieces: Sequence[Piece]) -> list[Piece]:
    """Runs of pieces with thirds, fifths ... put under a tuplet each, up to where the run has come
    back to halves; then split into lengths that have a sign."""
    made: list[Piece] = []
    at = 0
    while at < len(pieces):
        end = _run_end(pieces, at)
        parts = math.lcm(*(_odd(piece.length.denominator) for piece in pieces[at:end]))
        if parts == 1 or parts > MOST_IN_TUPLET:
            for piece in pieces[at:end]:
                made += _split(piece, Fraction(1))
        else:
            made += _tuplet(pieces[at:end], parts)
        at = end
    return made


def _run_end(pieces: Sequence[Piece], at: int) -> int:
    total = Fraction(0)
    for end in range(at, len(pieces)):
        total += pieces[end].length
        if _odd(total.denominator) == 1:
            return end + 1
    return len(pieces)


def _tuplet(pieces: Sequence[Piece], parts: int) -> list[Piece]:
    in_time_of = 1 << (parts.bit_length() - 1)
    made = [small for piece in pieces for small in _split(piece, Fraction(in_time_of, parts))]
    made[0] = replace(made[0], tuplet=(parts, in_time_of, len(made)))
    return made


def _split(piece: Piece, factor: Fraction) -> list[Piece]:
    """A piece in written lengths with none, one or two dots, the longest first; one whose length
    is no sum of halves stays whole."""
    whole = piece.length / factor
    if _odd(whole.denominator) != 1:
        return [replace(piece, written=whole)]
    made: list[Piece] = []
    left, onset = whole, piece.onset
    while left:
        sign = _longest_sign(left)
        left -= sign
        made.append(
            replace(
                piece,
                onset=onset,
                length=sign * factor,
                written=sign,
                first=piece.first and not made,
                last=piece.last and not left,
            )
        )
        onset += sign * factor
    return made


def _longest_sign(length: Fraction) -> Fraction:
    """The longest plain, dotted or doubly dotted length up to a breve that fits."""
    if length >= 8:
        return Fraction(8)
    top = Fraction(1 << (length.numerator.bit_length()), 1)
    plain = top / (1 << (length.denominator.bit_length() - 1))
    while plain > length:
        plain /= 2
    dotted = (plain * Fraction(7, 4), plain * Fraction(3, 2), plain)
    return next(sign for sign in dotted if sign <= length)
