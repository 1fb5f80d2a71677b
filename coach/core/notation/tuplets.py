"""Where a bar needs tuplets: the stretches whose notes no halving of the beat can reach."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coach.core.notation.tree import Stretch, is_dyadic, odd_part

# Beyond these a tuplet over several beats is hard to read: it is cut at the beat.
MOST_OVER_BEATS = 9


@dataclass(frozen=True, slots=True)
class Region:
    """`actual` notes stand in the time of `normal` from `start` to `end` (beats in the bar)."""

    start: Fraction
    end: Fraction
    actual: int
    normal: int

    def nominal(self, at: Fraction) -> Fraction:
        """What a time in the bar would be, counted from `start`, if the values were as printed."""
        return (at - self.start) * self.actual / self.normal

    def beats(self, nominal: Fraction) -> Fraction:
        """The time in the bar that `nominal` gives."""
        return self.start + nominal * self.normal / self.actual


def regions(whole: Stretch, points: list[Fraction]) -> Iterator[Region]:
    """The tuplets of a stretch in order; `points` are the starts and ends of its notes."""
    if not _odd(whole, points):
        return
    if whole.beats > 1:
        yield from _over_beats(whole, points)
    elif _falls_apart(whole, points):
        for part in whole.parts:
            yield from regions(part, points)
    else:
        yield _region(whole.start, whole.end, points)


def _over_beats(whole: Stretch, points: list[Fraction]) -> Iterator[Region]:
    parts = list(whole.parts)
    while parts:
        pair = parts[:2]
        if len(pair) == 2 and _spans(pair[0].start, pair[1].end, pair[1].start, points):
            yield _region(pair[0].start, pair[1].end, points)
            parts = parts[2:]
        else:
            yield from regions(parts.pop(0), points)


def _spans(start: Fraction, end: Fraction, middle: Fraction, points: list[Fraction]) -> bool:
    """Whether one plain tuplet, such as a triplet of quarter notes, fills two parts."""
    if middle in points or start not in points or end not in points:
        return False
    inside = _between(start, end, points)
    odd = _common_odd(start, inside)
    unit = (end - start) / odd
    return 1 < odd <= MOST_OVER_BEATS and all(
        ((point - start) / unit).denominator == 1 for point in inside
    )


def _falls_apart(beat: Stretch, points: list[Fraction]) -> bool:
    """Whether the odd ones keep to some parts of the beat, so that these are tuplets of their own.

    Halves that are alike make one tuplet of the beat: six, not twice three."""
    parts = beat.parts
    odd = [part for part in parts if _odd(part, points)]
    if any(part.start not in points or part.end not in points for part in odd):
        return False
    inner = [part.start for part in parts[1:] if part.start not in points]
    if any(not is_dyadic(point) for point in inner):
        return False
    kinds = {_common_odd(part.start, _odd(part, points)) for part in odd}
    # Other odd points may lie on the places of division themselves.
    if any(place in _odd(beat, points) for place in beat.inner):
        return False
    return len(odd) < len(parts) or len(kinds) > 1 or len(parts) > 2


def _region(start: Fraction, end: Fraction, points: list[Fraction]) -> Region:
    inside = _between(start, end, points)
    actual, normal = _common_odd(start, inside), 1
    # Five in the time of three eighths, not five in that of four dotted 32nds.
    own = odd_part((end - start).numerator)
    if all(is_dyadic((point - start) * actual / own) for point in inside):
        normal = own
    while actual <= normal:
        actual *= 2
    while normal * 2 < actual:
        normal *= 2
    times = _doubled(start, end, inside, actual)
    return Region(start, end, actual * times, normal * times)


def _doubled(start: Fraction, end: Fraction, inside: list[Fraction], actual: int) -> int:
    """2 where most notes are half as long as one of the tuplet's: six, not three."""
    edges = [start, *inside, end]
    lengths = Counter(after - before for before, after in pairwise(edges))
    return 2 if lengths[(end - start) / (2 * actual)] > actual else 1


def _between(start: Fraction, end: Fraction, points: list[Fraction]) -> list[Fraction]:
    return [point for point in points if start < point < end]


def _odd(whole: Stretch, points: list[Fraction]) -> list[Fraction]:
    """The points inside that no halving reaches."""
    return [p for p in _between(whole.start, whole.end, points) if not is_dyadic(p)]


def _common_odd(start: Fraction, inside: list[Fraction]) -> int:
    return math.lcm(*(odd_part((point - start).denominator) for point in inside))
