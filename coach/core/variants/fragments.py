"""Pieces of a passage: bursts with a stop, a note more each time, overlapping windows, and the
whole of it slowly beside pieces at tempo (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from coach.core.passage import Passage
from coach.core.variants.laying import Laid, cut, joined_title, laid, place_of

SLOW_SHARE = 0.6
MOST_PIECES = 200


def bursts(passage: Passage, sizes: Sequence[int] = (2, 3, 4)) -> tuple[Passage, ...]:
    """One passage for each size: so many notes at speed, the last one held to the next click, and a
    click of rest; the next burst begins with the note on which the last one stopped.

    ValueError for sizes under 2.
    """
    if any(size < 2 for size in sizes):
        raise ValueError("a burst has at least 2 notes")
    return tuple(_bursts(passage, size) for size in sizes if size <= len(passage.notes))


def _bursts(passage: Passage, size: int) -> Passage:
    row: list[Laid] = []
    at = Fraction(0)
    for first in range(0, len(passage.notes) - 1, size - 1):
        burst = passage.notes[first : first + size]
        begun = [replace(burst[0], slurred=False), *burst[1:]]
        lengths = [note.length_beats for note in burst[:-1]]
        lengths.append(_to_click(at + sum(lengths), passage.pulse_beats))
        row += [*zip(begun, lengths, strict=True), (None, passage.pulse_beats)]
        at += sum(lengths) + passage.pulse_beats
    return laid(passage, row[:-1], joined_title(passage, f"bursts of {size}"))


def _to_click(at: Fraction, pulse_beats: Fraction) -> Fraction:
    """From `at` to the next click, and no less than half of one."""
    left = -at % pulse_beats
    return left if left >= pulse_beats / 2 else left + pulse_beats


def add_a_note(
    passage: Passage, end: str = "back", by: int = 1, first: int = 2
) -> tuple[Passage, ...]:
    """The passage growing by `by` notes from `first` on: at the "back" (from its beginning) or at
    the "front" (from its end backwards).

    ValueError for another end, numbers under 1, or more than 200 pieces.
    """
    if end not in ("front", "back"):
        raise ValueError(f'notes are added at the "front" or the "back", not "{end}"')
    if by < 1 or first < 1:
        raise ValueError("at least one note at a time is added")
    whole = len(passage.notes)
    counts = [*range(min(first, whole), whole, by), whole]
    _check_count(counts)
    return tuple(
        cut(
            passage,
            whole - count if end == "front" else 0,
            count,
            joined_title(passage, f"the {'last' if end == 'front' else 'first'} {count}"),
        )
        for count in counts
    )


def windows(passage: Passage, size: int = 8, step: int = 4) -> tuple[Passage, ...]:
    """Pieces of `size` notes, each `step` notes after the one before; the last one reaches the end.

    ValueError for a size under 2, a step that leaves notes out, or more than 200 pieces.
    """
    if size < 2 or not 1 <= step <= size:
        raise ValueError("a window has at least 2 notes, and the next one follows within it")
    last = max(0, len(passage.notes) - size)
    starts = [*range(0, last, step), last]
    _check_count(starts)
    return tuple(
        cut(passage, first, size, joined_title(passage, f"from {place_of(passage, first)}"))
        for first in starts
    )


def _check_count(pieces: Sequence[int]) -> None:
    if len(pieces) > MOST_PIECES:
        raise ValueError(
            f"that makes {len(pieces)} pieces, over {MOST_PIECES}: take more notes at a time"
        )


def slow_and_fragments(
    passage: Passage, share: float = SLOW_SHARE, size: int = 6
) -> tuple[Passage, ...]:
    """The whole passage at `share` of the tempo, then pieces of it at full tempo.

    ValueError for a share that is not between 0 and 1.
    """
    if not 0 < share < 1:
        raise ValueError("slow is a share of the tempo between 0 and 1")
    title = joined_title(passage, "whole, slowly, with full air")
    slow = replace(passage, tempo_share=share, title=title)
    return (slow, *windows(passage, size, max(1, size - 2)))
