"""Finding where free playing starts, and its tempo, from the attacks that were heard.

Due frame f of the list is played at start + f / ratio.  At every ratio each pair of a due and an
attack of its pitch votes for a start; where many dues vote alike, a line is grown through them,
note by note, and scored over the whole list.  Missed and wrong notes only cost their votes, and
notes that belong to nothing (warming up, echoes) find few partners in the right order.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import linear_regression, median

from coach.core.pitch import hz_of_midi
from coach.core.take import Attack
from coach.core.timeline import Due

SLOWEST, FASTEST = 0.7, 1.4
# A little beyond, for a tempo of just 0.7 may be heard as less.
MARGIN = 0.02
REACH_S, NEAREST_REACH_S, REACH_SHARE = 0.05, 0.025, 0.4
VOTING_NOTES = 32
BIN_S = 0.04
GROWN, KEPT = 24, 3
SAME_PITCH = 0.8
# Median over spliced takes of all instruments, tongued: 30 ms at 70 Hz, 6 ms at 450 Hz; slurs 0.
LATE_PERIODS = 2.5
FAR_S, FAR_DEVIATIONS = 0.06, 3.5
ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Fit:
    """Due frame f of the list is played at `start_frame` + f / `tempo_ratio`."""

    start_frame: int
    tempo_ratio: float

    def frame(self, due_frame: float) -> float:
        return self.start_frame + due_frame / self.tempo_ratio


def moved(dues: Sequence[Due], fit: Fit) -> tuple[Due, ...]:
    """The dues where the player put them."""
    return tuple(
        replace(
            due,
            frame=round(fit.frame(due.frame)),
            length_frames=max(1, round(due.length_frames / fit.tempo_ratio)),
        )
        for due in dues
    )


def apart_frames(dues: Sequence[Due], one: Fit, other: Fit) -> float:
    """How far two fits put the same note apart, at most."""
    ends = (dues[0].frame, dues[-1].frame)
    return max(abs(one.frame(f) - other.frame(f)) for f in ends)


def fit_of(dues: Sequence[Due], claimed: Iterable[Attack], rate: int) -> Fit | None:
    """The line through the attacks that a follower claimed for dues: least squares without what
    lies far off.  None where fewer than three notes, or no such tempo, are left."""
    by_due = {a.due: a for a in claimed if a.due is not None}
    points = [
        (float(due.frame), float(by_due[due.index].frame))
        for due in dues
        if due.index in by_due and _same_pitch(due, by_due[due.index])
    ]
    return _robust(points, rate)


def worth(dues: Sequence[Due], claimed: Iterable[Attack], fit: Fit, rate: int) -> float:
    """How well a follower's attacks bear out a fit: the share of the dues found on their pitch,
    weighed by how sure each is and how near the line."""
    by_due = {a.due: a for a in claimed if a.due is not None}
    right = [(d, by_due[d.index]) for d in dues if d.index in by_due]
    right = [(d, a) for d, a in right if _same_pitch(d, a)]
    off = [abs(a.frame - fit.frame(d.frame)) / (FAR_S * rate) for d, a in right]
    return sum(a.confidence / (1 + o * o) for (_, a), o in zip(right, off, strict=True)) / len(dues)


class Search:
    """Votes and lines for one list of dues and the attacks that were heard, in any order."""

    def __init__(self, dues: Sequence[Due], attacks: Sequence[Attack], rate: int) -> None:
        self.dues, self._rate = tuple(dues), rate
        self._by_pitch: dict[int, list[int]] = {}
        for pitch in {due.pitch for due in dues}:
            near = [a.frame for a in attacks if _near_pitch(a, pitch)]
            self._by_pitch[pitch] = sorted(near)
        gaps = [b.frame - a.frame for a, b in pairwise(dues)]
        usual = median(gaps) if gaps else rate
        share = REACH_SHARE * usual
        self._reach = min(REACH_S * rate, max(NEAREST_REACH_S * rate, share))

    def starts(self) -> list[Fit]:
        """Starts and tempos (0.7 to 1.4 of the written) that explain most attacks, the best first:
        up to three that differ, none where nothing was heard on any pitch of the list."""
        scored = [(self.support(fit), fit) for fit in map(self._grown, self._voted())]
        kept: list[Fit] = []
        for support, fit in sorted(scored, key=lambda pair: -pair[0]):
            far = all(apart_frames(self.dues, fit, k) > REACH_S * self._rate for k in kept)
            if far and support > 0 and len(kept) < KEPT:
                kept.append(fit)
        return kept

    def support(self, fit: Fit) -> float:
        """The share of the dues with an attack of their pitch nearby, less up to a half of each for
        its distance."""
        found = [(d, self._nearest(fit, d, self._reach)) for d in self.dues]
        off = [abs(a - fit.frame(d.frame)) / self._reach for d, a in found if a is not None]
        return (len(off) - 0.5 * sum(off)) / len(self.dues)

    def _voted(self) -> list[Fit]:
        """The fits for which most of the first dues vote, roughly."""
        dues = self.dues[:VOTING_NOTES]
        bins: list[tuple[int, Fit]] = []
        for ratio in _ratios(dues[-1].frame - dues[0].frame, BIN_S * self._rate):
            bins += self._votes(dues, ratio)
        kept: list[Fit] = []
        for _, fit in sorted(bins, key=lambda pair: (-pair[0], abs(math.log(pair[1].tempo_ratio)))):
            if len(kept) == GROWN:
                break
            if all(apart_frames(dues, fit, k) > 1.5 * BIN_S * self._rate for k in kept):
                kept.append(fit)
        return kept

    def _votes(self, dues: Sequence[Due], ratio: float) -> list[tuple[int, Fit]]:
        """(dues that vote for it, fit) at one ratio, the best few: a bin and the next together."""
        width = BIN_S * self._rate
        first = dues[0].frame
        voters: dict[int, set[int]] = {}
        for due in dues:
            off = (due.frame - first) / ratio + self._late(due)
            for frame in self._by_pitch[due.pitch]:
                place = math.floor((frame - off) / width)
                voters.setdefault(place, set()).add(due.index)
                voters.setdefault(place - 1, set()).add(due.index)
        best = sorted(voters, key=lambda place: -len(voters[place]))[:4]
        return [
            (len(voters[place]), Fit(round((place + 1) * width - first / ratio), ratio))
            for place in best
        ]

    def _grown(self, fit: Fit) -> Fit:
        """The line through the attacks near it, over the first notes and then over all."""
        count = min(len(self.dues), VOTING_NOTES)
        while True:
            for reach in (2.0, 1.0):
                part = self.dues[:count]
                found = [(d.frame, self._nearest(fit, d, reach * self._reach)) for d in part]
                points = [(float(d), a) for d, a in found if a is not None]
                fit = _robust(points, self._rate) or fit
            if count == len(self.dues):
                return fit
            count = min(len(self.dues), 2 * count)

    def _late(self, due: Due) -> float:
        """How late, in frames, an ear that knows no score hears the start of such a note."""
        return 0.0 if due.slurred else LATE_PERIODS * self._rate / hz_of_midi(due.pitch)

    def _nearest(self, fit: Fit, due: Due, reach: float) -> float | None:
        """Where the nearest attack of the due's pitch says that it began."""
        late = self._late(due)
        at = fit.frame(due.frame) + late
        frames = self._by_pitch[due.pitch]
        place = bisect_left(frames, at)
        near = [f for f in frames[max(0, place - 1) : place + 1] if abs(f - at) <= reach]
        return min(near, key=lambda f: abs(f - at)) - late if near else None


def _ratios(length: float, step_frames: float) -> list[float]:
    """Ratios so near each other that the last due moves by `step_frames` between two."""
    low, high = SLOWEST * (1 - MARGIN), FASTEST * (1 + MARGIN)
    steps = max(8, math.ceil((1 / low - 1 / high) * length / step_frames))
    return [1 / (1 / high + k * (1 / low - 1 / high) / steps) for k in range(steps + 1)]


def _near_pitch(attack: Attack, pitch: int) -> bool:
    return attack.pitch is not None and abs(attack.pitch - pitch) < SAME_PITCH


def _same_pitch(due: Due, attack: Attack) -> bool:
    return _near_pitch(attack, due.pitch)


def _robust(points: Sequence[tuple[float, float]], rate: int) -> Fit | None:
    """Least squares over (due, attack) frames, again and again without those far off the line."""
    kept = list(points)
    fit = None
    for _ in range(ROUNDS):
        fit = _line(kept)
        if fit is None:
            return None
        off = [abs(a - fit.frame(d)) for d, a in points]
        far = max(FAR_S * rate, FAR_DEVIATIONS * median(off))
        fewer = [p for p, o in zip(points, off, strict=True) if o <= far]
        if fewer == kept:
            break
        kept = fewer
    return fit


def _line(points: Sequence[tuple[float, float]]) -> Fit | None:
    if len({due for due, _ in points}) < 3:
        return None
    slope, start = linear_regression(*zip(*points, strict=True))
    fits = (1 - MARGIN) / FASTEST <= slope <= (1 + MARGIN) / SLOWEST
    return Fit(round(start), 1 / slope) if fits else None
