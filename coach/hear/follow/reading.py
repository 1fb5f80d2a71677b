"""Reading on along a path: what one expected note can have been, by the sound around its place.

A window is opened around the place where the note is to be expected (the due, moved by how far the
player is from the click).  The attack net scores every hop of it; where some stand out, the note
net looks at the 72 ms after each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from coach.core.timeline import Due
from coach.core.verdicts import intervals_frames
from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import HOP, RATE, Rows
from coach.hear.follow.inputs import MIDDLE_CLASS, PITCH_CLASSES, NoteContext, note_context
from coach.hear.follow.lines import Lines
from coach.hear.follow.measure import is_rather
from coach.hear.follow.net import AttackNet, NoteNet
from coach.hear.follow.patch import REACH, patch
from coach.hear.follow.paths import Found, Path, best_paths
from coach.hear.follow.window import Line, View, fine_place, mass_near, peaks

NARROWEST_S, WIDEST_S, WINDOW_SHARE = 0.055, 0.150, 1.1
LOST_FACTOR = 1.5
USUAL_DOUBT_FRAMES = 0.02 * RATE
NEAREST_S, NEAREST_SHARE = 0.02, 0.3
PRIOR_SCALE_S = 0.05
MISSED_GAIN = -4.5
MOST_GAIN = 6.0
WRONG_PRIOR = 0.05
# The note net was taught with a wrong pitch on every third page; players are right more often.
RIGHT_ODDS = 4.0
NEAR_STEPS, SETTLING, OVERRULED = 2, 0.022 * RATE, 0.6
# How far from the attack the pitch may change: as far as is known at once, and later.
LAG_HOPS, WHOLE_LAG_HOPS = 10, 15


@dataclass(frozen=True, slots=True)
class Glimpse:
    """A note that shows at `frame`; `sure` is the chance that it is there, by what is known."""

    index: int
    frame: float
    sure: float


class Reader:
    """Reads `dues` (frames at the working rate) in a bank; `tuning` is the player's, semitones."""

    def __init__(self, dues: Sequence[Due], bank: Bank, nets: tuple[AttackNet, NoteNet]) -> None:
        self.tuning = 0.0
        self._dues = tuple(dues)
        self._bank = bank
        self._attack_net, self._note_net = nets
        self._intervals = intervals_frames([d.frame for d in dues], [d.length_frames for d in dues])
        self._lines = Lines(bank, self._attack_net)
        self._patches: dict[tuple[int, int, float], Rows] = {}
        # Whether it was sound, not features, that was missing at the last try.
        self.lacks_sound = False

    def forget(self, before: int) -> None:
        """Notes before this one are not looked for any more."""
        self._lines.forget(before)
        self._patches = {k: seen for k, seen in self._patches.items() if k[0] >= before}

    def window(self, index: int, path: Path) -> tuple[int, int, float]:
        """First and last hop to look at, and the hop to expect the note at."""
        due, interval_s = self._dues[index], self._intervals[index] / RATE
        lean = path.lean
        centre = due.frame + lean.at(due.frame)
        half = min(WIDEST_S, max(NARROWEST_S, WINDOW_SHARE * interval_s)) * RATE
        if lean.missed or not lean.known:
            half *= LOST_FACTOR
        if lean.known:
            half += max(0.0, lean.sd_at(due.frame) - USUAL_DOUBT_FRAMES)
        half = min(2 * WIDEST_S * RATE, half)
        nearest = path.last_frame + RATE * max(NEAREST_S, NEAREST_SHARE * interval_s)
        low = max(centre - half, nearest)
        high = max(centre + half, low + 4 * HOP)
        return int(low // HOP), int(high // HOP), centre / HOP

    def longer(self, index: int, paths: Sequence[Path]) -> tuple[Path, ...] | None:
        """The best of the paths with note `index` more; None while that needs more sound."""
        longer: list[Path] = []
        self.lacks_sound = False
        for path in paths:
            continued = self._continued(index, path)
            if continued is None:
                return None
            longer += continued
        return best_paths(longer)

    def glimpse(self, index: int, path: Path) -> Glimpse | None:
        """The note as it begins to show, before it can be said."""
        low, high, centre = self.window(index, path)
        end = min(high + 1, self._lines.end_hop)
        if end <= low:
            return None
        view = self._seen(index, self._context(index), low, end, centre)
        sight = view.first_sight()
        if sight is None:
            return None
        return Glimpse(index, (low + fine_place(view.line, sight[0])) * HOP, sight[1])

    def _context(self, index: int) -> NoteContext:
        due = self._dues[index]
        before = self._dues[index - 1].pitch if index else None
        after = self._dues[index + 1].pitch if index + 1 < len(self._dues) else None
        return NoteContext(due.pitch, before, after, due.slurred, self._intervals[index] / RATE)

    def _continued(self, index: int, path: Path) -> list[Path] | None:
        """The path with each thing that the note may have been; None while more sound is needed."""
        low, high, centre = self.window(index, path)
        end = min(high + 1, self._lines.end_hop)
        if end <= low:
            return None
        context = self._context(index)
        view = self._seen(index, context, low, end, centre)
        for until, whole in view.stops(whole=end == high + 1):
            chances = view.chances(until)
            if not whole and int(np.argmax(chances)) == until:
                continue
            tops = peaks(chances[:-1])
            if not self._is_known(low + max(tops)):
                return None
            heard = [self._heard(path, context, (index, low, top), chances) for top in tops]
            missed = _missed(index, low, chances, heard)
            return [path.missed(missed, MISSED_GAIN), *heard]
        return None

    def _is_known(self, hop: int) -> bool:
        """Whether all that is looked at after an attack at this hop is there."""
        self.lacks_sound = self._bank.end_frame < hop * HOP + REACH + HOP
        return not self.lacks_sound and self._lines.end_hop > hop + LAG_HOPS + 1

    def _seen(self, index: int, context: NoteContext, low: int, end: int, centre: float) -> View:
        """The scores of one note over the hops of its window that are known."""
        scores = self._lines.scores(index, context, low, end)
        line = scores.takeover if context.slurred else scores.attack
        prior = np.abs(np.arange(low, end) - centre) * (HOP / RATE / PRIOR_SCALE_S)
        return View(line - prior, self._attack_net.absent(scores.hidden))

    def _heard(
        self, path: Path, context: NoteContext, at: tuple[int, int, int], chances: Line
    ) -> Path:
        """The path if the note was at a hop: `at` is (note, first hop of the window, place)."""
        index, low, top = at
        frame = (low + fine_place(chances[:-1], top)) * HOP
        seen = self._patch(index, round(frame), context.pitch + self.tuning)
        relative = path.loudness.against(seen, context.pitch, context.interval_s)
        known = np.concatenate([note_context(context), relative])
        pitches, others = self._note_net.judge(seen, known)
        pitches = _as_played(pitches)
        best = int(np.argmax(pitches))
        sure = [mass_near(chances, top), float(pitches[best]), others["there"]]
        found = Found(
            index,
            frame,
            min(sure),
            low * HOP,
            None,
            best - MIDDLE_CLASS if best < PITCH_CLASSES else None,
            others["there"],
            float(pitches[MIDDLE_CLASS]),
            others["split"],
            others["muffled"],
        )
        loudness = path.loudness.heard(seen, context.pitch, context.interval_s)
        gain = min(MOST_GAIN, float(chances[top] - chances[-1])) + _plausible(found)
        return path.heard(found, self._dues[index], loudness, gain)

    def _patch(self, index: int, frame: int, pitch: float) -> Rows:
        key = index, frame, pitch
        if key not in self._patches:
            self._patches[key] = patch(self._bank, frame, pitch)
        return self._patches[key]

    def looked_at_twice(self, found: Found) -> Found:
        """A note said to be a semitone or two off is not, if its period speaks for the right
        pitch: the note net is too quick with that."""
        away = found.pitch_offset
        if found.frame is None or away is None or not 0 < abs(away) <= NEAR_STEPS:
            return found
        length = min(REACH, 0.9 * self._intervals[found.index])
        sound = self._bank.part(round(found.frame + SETTLING), round(found.frame + length))
        pitch = self._dues[found.index].pitch + self.tuning
        steps = [step for step in range(-NEAR_STEPS, NEAR_STEPS + 1) if step]
        if not is_rather(sound, pitch, [pitch + step for step in steps]):
            return found
        return replace(found, pitch_offset=0, sure=min(found.sure, OVERRULED))

    def takeover_frame(self, found: Found, reach_hops: int = LAG_HOPS) -> float | None:
        """When the pitch changed, for a tongued note after another pitch: looked for so many hops
        before and after the attack (which must be known)."""
        context = self._context(found.index)
        if context.slurred or context.before is None or context.before == context.pitch:
            return None
        assert found.frame is not None
        low = round(found.frame / HOP) - reach_hops
        line = self._lines.scores(found.index, context, low, low + 2 * reach_hops + 1).takeover
        return (low + fine_place(line, int(np.argmax(line)))) * HOP


def _missed(index: int, low: int, chances: Line, heard: Sequence[Path]) -> Found:
    """A note that was not played; `there` and `right` are those of what comes nearest to it."""
    rivals = [path.trail[-1] for path in heard]
    nearest = max(rivals, key=lambda f: f.there * f.right)
    return Found(
        index,
        None,
        float(np.exp(chances[-1])),
        low * HOP,
        there=nearest.there,
        right=nearest.right,
        rival_frame=nearest.frame,
    )


def _as_played(pitches: NDArray[np.float32]) -> NDArray[np.float32]:
    """The chances of the pitches, given how often players are right."""
    weighted = pitches.copy()
    weighted[MIDDLE_CLASS] *= RIGHT_ODDS
    weighted /= weighted.sum()
    return weighted


def _plausible(found: Found) -> float:
    """Log chance that an attack is this note, by what the note net saw."""
    right = found.right + WRONG_PRIOR * (1 - found.right)
    return math.log(max(found.there, 1e-3)) + math.log(right)
