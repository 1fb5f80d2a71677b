"""Lengths that can be printed: a note cut at those divisions of the bar that must be seen."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from coach.core.notation.model import VALUES, printed_value
from coach.core.notation.tree import Stretch, odd_part

SHORTEST = min(VALUES.values())
# Where a beat has more parts than four, rests are as long as notes would be.
MOST_DIVISIONS = 3


def cuts(start: Fraction, end: Fraction, whole: Stretch, rest: bool) -> Iterator[Fraction]:
    """The ends of the signs for what sounds (or rests) from `start` to `end` inside `whole`.

    ValueError if the shortest value there is would be too long.
    """
    if end - start < SHORTEST:
        raise ValueError(f"no note is as short as {end - start} of a beat")
    crossed = [place for place in whole.inner if start < place < end]
    rest = rest and len(whole.inner) <= MOST_DIVISIONS
    if _may_stand(start, end, whole, crossed, rest):
        yield end
    elif crossed:
        at = _cut(start, whole, crossed, rest)
        yield from cuts(start, at, whole, rest)
        yield from cuts(at, end, whole, rest)
    else:
        inside = next(p for p in whole.parts if p.start <= start and end <= p.end)
        yield from cuts(start, end, inside, rest)


def _may_stand(
    start: Fraction, end: Fraction, whole: Stretch, crossed: list[Fraction], rest: bool
) -> bool:
    if printed_value(end - start) is None:
        return False
    if (start, end) == (whole.start, whole.end):
        return True
    if not crossed:
        return False
    if rest:
        return _rest_may_cross(start, end, whole)
    if whole.beats <= 1 and (start == whole.start or end == whole.end):
        return True
    step = _step(whole, crossed)
    return (start - whole.start) % step == 0 and (end - whole.start) % step == 0


def _rest_may_cross(start: Fraction, end: Fraction, whole: Stretch) -> bool:
    """Two thirds of a dotted beat, from its start: the one rest that hides a division."""
    third = whole.length / 3
    threes = whole.beats <= 1 and odd_part(whole.length.numerator) == 3
    return threes and start == whole.start and end == start + 2 * third


def _step(whole: Stretch, crossed: list[Fraction]) -> Fraction:
    """Where a note that crosses a division may begin and end: half a part away from it, so that
    the quarter, half, quarter of a 4/4 bar stand as such; on the parts themselves where it crosses
    several, or where the parts are dotted beats."""
    part = whole.parts[0].length
    dotted = whole.beats > 1 and odd_part(part.numerator) == 3 and whole.parts[0].beats <= 1
    return part if dotted or len(crossed) > 1 else part / 2


def _cut(start: Fraction, whole: Stretch, crossed: list[Fraction], rest: bool) -> Fraction:
    """The division to cut at: the first, or the farthest that one value reaches from a division."""
    on_parts = any(start == part.start for part in whole.parts)
    if on_parts and not rest:
        for place in reversed(crossed):
            if printed_value(place - start):
                return place
    return crossed[0]
