"""Which bars: by the numbers that are printed, and where in a whole bar each begins."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.score.model import Frame
from coach.errors import CoachError


def bars_between(frames: Sequence[Frame], wanted: str | None) -> tuple[int, int]:
    """The first and last index of "A-B", of "A", of "A-" (to the end); None: all.

    Where a number stands twice, the first is meant.  A bar without a printed number right after
    the last one is the rest of it.  CoachError if there is no such bar.
    """
    if wanted is None:
        return 0, len(frames) - 1
    low, dash, high = (text.strip() for text in wanted.partition("-"))
    first = _index(frames, low, 0, wanted)
    if dash and not high:
        return first, len(frames) - 1
    last = _index(frames, high or low, first, wanted)
    while last + 1 < len(frames) and _is_rest_of(frames, last + 1):
        last += 1
    return first, last


def _index(frames: Sequence[Frame], number: str, start: int, wanted: str) -> int:
    plain = number.lstrip("0") or "0" if number.isdecimal() else number
    for at in range(start, len(frames)):
        if frames[at].number == plain:
            return at
    span = f"{frames[0].number} to {frames[-1].number}" if frames else "none"
    if any(frame.number == plain for frame in frames):
        raise CoachError(f"bars {wanted} run backwards", "", "write the earlier bar first")
    raise CoachError(f"there is no bar {number or wanted}", "", f"the bars are {span}")


def _is_rest_of(frames: Sequence[Frame], at: int) -> bool:
    """A bar split in two by a repeat or a double bar: the second part has no printed number."""
    both = frames[at - 1].length + frames[at].length
    return frames[at].implicit and both <= frames[at - 1].meter.bar_beats


def beginnings(frames: Sequence[Frame]) -> tuple[Fraction, ...]:
    """Where in a whole bar of its meter each bar begins, in quarter notes: 3 for a pick-up of one
    beat in 4/4, the length of the first part for the second part of a split bar, else 0."""
    made: list[Fraction] = []
    for at, frame in enumerate(frames):
        missing = frame.meter.bar_beats - frame.length
        so_far = made[-1] + frames[at - 1].length if at else Fraction(0)
        if missing <= 0:
            made.append(Fraction(0))
        elif at and so_far < frame.meter.bar_beats and so_far <= missing:
            made.append(so_far)
        else:
            made.append(missing if _leads_in(frames, at) else Fraction(0))
    return tuple(made)


def _leads_in(frames: Sequence[Frame], at: int) -> bool:
    """Whether a bar that is too short is a pick-up."""
    if frames[at].implicit or frames[at].number == "0":
        return True
    return at == 0 and not (len(frames) > 1 and _is_rest_of(frames, 1))
