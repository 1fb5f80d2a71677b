"""A tempo that changes on the way: what every beat of the page is in beats of an even tempo.

The tempo of an exercise counts clicks at its start; a warp says where it is faster or slower and
where a fermata holds.  All of it is exact: a note's place is one fraction, rounded to a frame once.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import NamedTuple


class _Sums(NamedTuple):
    """Beats at which a step or a hold begins, and what is before them in beats of the even tempo:
    before each step without holds, before each hold (and after the last) of holds alone."""

    steps: tuple[Fraction, ...]
    before: tuple[Fraction, ...]
    holds: tuple[Fraction, ...]
    held: tuple[Fraction, ...]


class _Summed:
    """A place for the sums, which are made once and are no part of what a warp is: a movement asks
    for some ten thousand beats."""

    __slots__ = ("_made",)


@dataclass(frozen=True, slots=True)
class Warp(_Summed):
    """From each of `steps` (beat, share of the tempo) on, that share holds, the first at beat 0;
    each of `holds` (beat, extra beats of the even tempo) stops the time at that beat.

    Both in order of beats, shares above 0, ValueError if not.  Before beat 0 (the count-in) the
    tempo is that of the start.
    """

    steps: tuple[tuple[Fraction, Fraction], ...]
    holds: tuple[tuple[Fraction, Fraction], ...] = ()

    def __post_init__(self) -> None:
        places = [beat for beat, _ in self.steps]
        if not places or places[0] != 0 or places != sorted(set(places)):
            raise ValueError("the steps of a tempo begin at beat 0 and go on in order")
        if any(share <= 0 for _, share in self.steps):
            raise ValueError("a tempo is above 0")
        stops = [beat for beat, _ in self.holds]
        if stops != sorted(set(stops)) or any(beat < 0 or extra <= 0 for beat, extra in self.holds):
            raise ValueError("holds come in order, each longer than nothing")

    def even(self, beat: Fraction) -> Fraction:
        """Where `beat` lies in beats of the even tempo."""
        sums = self._sums()
        at = max(0, bisect_left(sums.steps, beat) - 1)
        place, share = self.steps[at]
        held = sums.held[bisect_left(sums.holds, beat)]
        return sums.before[at] + (beat - place) / share + held

    def share_at(self, beat: Fraction) -> Fraction:
        """The share of the tempo that holds from `beat` on."""
        return self.steps[max(0, bisect_right(self._sums().steps, beat) - 1)][1]

    def _sums(self) -> _Sums:
        made: _Sums | None = getattr(self, "_made", None)
        if made is None:
            lengths = ((end - start) / share for (start, share), (end, _) in pairwise(self.steps))
            made = _Sums(
                tuple(beat for beat, _ in self.steps),
                tuple(accumulate(lengths, initial=Fraction(0))),
                tuple(beat for beat, _ in self.holds),
                tuple(accumulate((extra for _, extra in self.holds), initial=Fraction(0))),
            )
            object.__setattr__(self, "_made", made)
        return made


def ramp(
    start: Fraction, end: Fraction, share: Fraction, to_share: Fraction, step: Fraction
) -> tuple[tuple[Fraction, Fraction], ...]:
    """A ritardando or accelerando in steps of `step` beats, from `share` towards `to_share`: the
    middle of each step lies on the line between them."""
    made: list[tuple[Fraction, Fraction]] = []
    beat = start
    while beat < end:
        length = min(step, end - beat)
        done = (beat + length / 2 - start) / (end - start)
        made.append((beat, share + (to_share - share) * done))
        beat += length
    return tuple(made)


def warp_of(
    tempos: Sequence[tuple[Fraction, float | Fraction]], reference: float | Fraction
) -> Warp | None:
    """Tempo marks (beat, quarters a minute) as shares of `reference`; None where it is even."""
    base = Fraction(str(round(reference, 3)))
    steps = [(beat, Fraction(str(round(bpm, 3))) / base) for beat, bpm in tempos]
    if not steps or steps[0][0] > 0:
        steps.insert(0, (Fraction(0), Fraction(1)))
    kept = [step for k, step in enumerate(steps) if k == 0 or steps[k - 1][1] != step[1]]
    return None if len(kept) == 1 and kept[0][1] == 1 else Warp(tuple(kept))
