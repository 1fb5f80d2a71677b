"""The follower: note after note of the score is looked for in the sound.

For each expected note a window is opened around the place where it is to be expected (the due,
moved by how far the player is from the click).  The attack net scores every hop of it; the note is
decided when one hop stands out for long enough, or when the window has passed.  Then the note net
looks at the 72 ms after the attack.  Everything depends on the sound alone, not on how it was cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.timeline import Due
from coach.core.verdicts import intervals_frames
from coach.hear.follow.bank import Bank
from coach.hear.follow.between import Between, look_between
from coach.hear.follow.frames import HOP, RATE
from coach.hear.follow.inputs import (
    MIDDLE_CLASS,
    PITCH_CLASSES,
    NoteContext,
    note_context,
    note_inputs,
)
from coach.hear.follow.lean import Lean
from coach.hear.follow.net import (
    AHEAD_HOPS,
    BACK_HOPS,
    Scores,
    nets,
)
from coach.hear.follow.patch import REACH, patch

NARROWEST_S, WIDEST_S, WINDOW_SHARE = 0.055, 0.150, 0.75
LOST_FACTOR = 1.5
NEAREST_S, NEAREST_SHARE = 0.02, 0.3
HOLD_HOPS = 12
COMMIT_MARGIN = 2.5
PRIOR_SCALE_S = 0.05
FINE_HOPS = 2
RIVAL_MARGIN = 3.0
SURELY_WRONG, HARDLY_RIGHT = 0.8, 0.1
ABSENT_BELOW = 0.1
ABSENT_BIAS = 0.5
LOG_DOUBT = math.log(0.6)
LAG_HOPS = 15
LONGEST_BETWEEN_S = 1.5

Line = NDArray[np.floating]


@dataclass(frozen=True, slots=True)
class Found:
    """What was found for an expected note; frames at the working rate.

    `frame` None: not played; `low_frame` is where it was looked for first.  `pitch_offset` in
    semitones from the expected one, None for no pitch; chances between 0 and 1.
    """

    index: int
    frame: float | None
    takeover_frame: float | None
    sure: float
    low_frame: float = 0.0
    pitch_offset: int | None = None
    there: float = 0.0
    split: float = 0.0


@dataclass(frozen=True, slots=True)
class View:
    """One note over the hops seen of its window: log scores of each hop, and of "not played" after
    each hop."""

    line: Line
    absent: Line

    def chances(self, until: int) -> Line:
        """Log chances after `until` hops: of each, and last of "not played yet"."""
        scores = np.append(self.line[:until], self.absent[until - 1])
        top = scores.max()
        logs: Line = scores - top - np.log(np.exp(scores - top).sum())
        return logs


class Follower:
    """Finds the `dues` (frames at the working rate) in a bank of features, in order."""

    def __init__(self, dues: Sequence[Due], bank: Bank) -> None:
        self._dues = tuple(dues)
        self._bank = bank
        self._attack_net, self._note_net = nets()
        self._intervals = intervals_frames([d.frame for d in dues], [d.length_frames for d in dues])
        self._lean = Lean(dues[0].frame if dues else 0)
        self._next = 0
        self._last_frame: float = -RATE
        self._last_pitch: int | None = None
        self._between: Between | None = None
        self.tuning = 0.0

    @property
    def resolved(self) -> int:
        """So many notes have been settled."""
        return self._next

    def settle_next(self) -> Found | None:
        """The next note, if the features known by now settle it."""
        return self._settle(self._next) if self._next < len(self._dues) else None

    def take_between(self) -> Between | None:
        """An attack that nobody asked for, before the note settled last."""
        taken, self._between = self._between, None
        return taken

    def _heard_between(self, frame: float, pitch: int) -> Between | None:
        if self._last_pitch is None:
            return None
        earlier = max(self._last_frame, frame - LONGEST_BETWEEN_S * RATE), self._last_pitch
        nets_ = self._attack_net, self._note_net
        return look_between(self._bank, nets_, earlier, (frame, pitch), self.tuning)

    def earliest_next(self) -> float:
        """The first frame at which the next note could be found; far away after the last."""
        if self._next >= len(self._dues):
            return float("inf")
        return self._window(self._next)[0] * HOP

    def _context(self, index: int) -> NoteContext:
        due = self._dues[index]
        before = self._dues[index - 1].pitch if index else None
        after = self._dues[index + 1].pitch if index + 1 < len(self._dues) else None
        return NoteContext(due.pitch, before, after, due.slurred, self._intervals[index] / RATE)

    def _window(self, index: int) -> tuple[int, int, float]:
        """First and last hop to look at, and the hop to expect the note at."""
        due, interval_s = self._dues[index], self._intervals[index] / RATE
        centre = due.frame + self._lean.at(due.frame)
        half = _half_s(interval_s)
        if self._lean.missed or not self._lean.known:
            half = min(2 * WIDEST_S, half * LOST_FACTOR)
        nearest = self._last_frame + RATE * max(NEAREST_S, NEAREST_SHARE * interval_s)
        low = max(centre - half * RATE, nearest)
        high = max(centre + half * RATE, low + 4 * HOP)
        return int(low // HOP), int(high // HOP), centre / HOP

    def _settle(self, index: int) -> Found | None:
        """What was found of one note, or None while more sound is needed."""
        low, high, centre = self._window(index)
        end = min(high + 1, self._bank.end_hop - AHEAD_HOPS)
        if end <= low:
            return None
        context = self._context(index)
        view = self._seen(context, low, end, centre)
        for until, whole in _stops(view, whole=end == high + 1):
            chances = view.chances(until)
            joint = self._with_next(index, low, low + until, chances)
            if int(np.argmax(joint)) < until:
                return self._look_closer(index, low, joint, chances, context)
            if whole and chances[-1] > LOG_DOUBT:
                return self._missed(index, low, float(np.exp(chances[-1])))
            if whole:
                return self._look_closer(index, low, joint, chances, context)
        return None

    def _seen(self, context: NoteContext, low: int, end: int, centre: float) -> View:
        """The scores of one note over the hops of its window that are known."""
        scores = self._scored(context, low, end)
        line = scores.takeover if context.slurred else scores.attack
        prior = np.abs(np.arange(low, end) - centre) * (HOP / RATE / PRIOR_SCALE_S)
        return View(line - prior, self._attack_net.absent(scores.hidden) - ABSENT_BIAS)

    def _with_next(self, index: int, low: int, end: int, chances: Line) -> Line:
        """Log chances of each hop of a note (last: of its absence), the next note heard as well
        as it can be after it: what fits the next one better is left to it."""
        if index + 1 >= len(self._dues):
            return chances
        due, interval_s = self._dues[index + 1], self._intervals[index + 1] / RATE
        centre = (due.frame + self._lean.at(due.frame)) / HOP
        half = _half_s(interval_s) * RATE / HOP
        first = max(low, int(centre - half))
        if first >= end:
            return chances
        after = self._seen(self._context(index + 1), first, end, centre).chances(end - first)
        best = np.full(end - low + 1, after[-1])
        apart = max(1, round(max(NEAREST_S, NEAREST_SHARE * interval_s) * RATE / HOP))
        rest = np.maximum.accumulate(after[-2::-1])[::-1]
        for hop in range(end - low):
            place = max(0, low + hop + apart - first)
            if place < len(rest):
                best[hop] = max(best[hop], rest[place])
        best[-1] = max(best[-1], rest[0])
        joint: Line = chances + best
        return joint

    def _scored(self, context: NoteContext, low: int, end: int) -> Scores:
        inputs = note_inputs(self._bank, context, low - BACK_HOPS, end + AHEAD_HOPS)
        return self._attack_net.scores(inputs)

    def _missed(self, index: int, low: int, chance: float) -> Found:
        self._lean = self._lean.not_heard()
        self._next = index + 1
        return Found(index, None, None, chance, low * HOP)

    def _look_closer(
        self, index: int, low: int, joint: Line, chances: Line, context: NoteContext
    ) -> Found | None:
        """The likeliest attack in the note net's view; None until its sound is there."""
        tops = _peaks(joint[:-1])
        if self._bank.end_frame < (low + max(tops)) * HOP + REACH + HOP:
            return None
        seen = [self._candidate(index, low, top, chances, context) for top in tops]
        weights = [
            joint[top] + math.log(max(f.there, 1e-4)) for top, f in zip(tops, seen, strict=True)
        ]
        found = seen[int(np.argmax(weights))]
        if found.there < ABSENT_BELOW:
            return self._missed(index, low, 1.0 - found.there)
        self._keep(found)
        return found

    def _candidate(
        self, index: int, low: int, top: int, chances: Line, context: NoteContext
    ) -> Found:
        near = slice(max(0, top - FINE_HOPS), min(top + FINE_HOPS + 1, len(chances) - 1))
        weights = np.exp(chances[near] - chances[top])
        hops = low + np.arange(near.start, near.stop)
        frame = float(hops @ weights / weights.sum() * HOP)
        seen = patch(self._bank, round(frame), context.pitch + self.tuning)
        pitches, others = self._note_net.judge(seen, note_context(context))
        best, sure = _named(pitches)
        around = chances[
            max(0, top - 2 * FINE_HOPS) : min(top + 2 * FINE_HOPS + 1, len(chances) - 1)
        ]
        return Found(
            index,
            frame,
            self._takeover(context, round(frame / HOP)),
            min(sure, float(np.exp(around).sum())),
            low * HOP,
            best - MIDDLE_CLASS if best < PITCH_CLASSES else None,
            others["there"],
            others["split"],
        )

    def _takeover(self, context: NoteContext, hop: int) -> float | None:
        """When the pitch changed, for a tongued note after another pitch."""
        if context.slurred or context.before is None or context.before == context.pitch:
            return None
        low = hop - LAG_HOPS
        end = min(hop + LAG_HOPS, self._bank.end_hop - AHEAD_HOPS - 1)
        line = self._scored(context, low, end + 1).takeover
        top = int(np.argmax(line))
        near = slice(max(0, top - FINE_HOPS), top + FINE_HOPS + 1)
        weights = np.exp(line[near] - line[top])
        return float((low + np.arange(len(line))[near]) @ weights / weights.sum() * HOP)

    def _keep(self, found: Found) -> None:
        """Move on to the next note."""
        assert found.frame is not None
        due = self._dues[found.index]
        trust = min(found.sure, found.there)
        self._lean = self._lean.heard(due.frame, found.frame - due.frame, trust)
        self._between = self._heard_between(found.frame, due.pitch)
        self._last_frame, self._last_pitch = found.frame, due.pitch
        self._next = found.index + 1


def _half_s(interval_s: float) -> float:
    """Half the width of a note's window."""
    return min(WIDEST_S, max(NARROWEST_S, WINDOW_SHARE * interval_s))


def _stops(view: View, *, whole: bool) -> list[tuple[int, bool]]:
    """(hops seen, is that all?): where to decide: at the first hop at which one has stood out long
    enough, and at the end of the window."""
    line, absent = view.line, view.absent
    best = np.maximum.accumulate(line)
    firsts = np.flatnonzero(np.diff(best, prepend=-np.inf) > 0)
    top = firsts[np.searchsorted(firsts, np.arange(len(line)), side="right") - 1]
    held = np.arange(len(line)) - top >= HOLD_HOPS
    clear = held & (best > absent + COMMIT_MARGIN)
    stops = [(int(np.argmax(clear)) + 1, False)] if clear.any() else []
    return [*stops, (len(line), True)] if whole else stops


def _named(pitches: NDArray[np.floating]) -> tuple[int, float]:
    """(pitch class, how sure): another pitch than the expected one must stand out to be named; in
    between nothing is sure."""
    best = int(np.argmax(pitches))
    if best == MIDDLE_CLASS or pitches[best] >= SURELY_WRONG:
        return best, 1.0
    return MIDDLE_CLASS, 1.0 if pitches[MIDDLE_CLASS] >= HARDLY_RIGHT else 0.0


def _peaks(line: Line) -> list[int]:
    """The best hop, and up to two other peaks that come near it."""
    best = int(np.argmax(line))
    inner = np.flatnonzero((line[1:-1] >= line[:-2]) & (line[1:-1] > line[2:])) + 1
    near = [int(k) for k in inner if abs(k - best) > 2 and line[k] > line[best] - RIVAL_MARGIN]
    return [best, *sorted(near, key=lambda k: -line[k])[:2]]
