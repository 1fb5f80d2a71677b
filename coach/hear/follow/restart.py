"""A player who broke off and begins again: with which note?

After a pause in which notes were only missed, the first sound is held against each note that may
be meant: the one that is due now (in place with the click), the one broken off, or one a little
before it.  Each is read on for a few notes at the player's spacing, and believed by how well these
notes fit; in place is taken unless another fits clearly better.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from coach.core.timeline import Due
from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import HOP, RATE, Rows
from coach.hear.follow.patch import REACH
from coach.hear.follow.paths import Found, Path
from coach.hear.follow.reading import Reader

# The level (46 ms, in scaled decibels: 20 dB are 1) is quiet so far under the loudest of the last
# notes.
QUIET_UNDER = 15 / 20
REMEMBERED, LEVEL_HOPS, QUIET_HOPS = 8, 10, int(0.25 * RATE / HOP)
# The level sees an attack about so early.
SEEN_EARLY_FRAMES = 0.01 * RATE
FEWEST_MISSED, MOST_BACK, MOST_BEGINNINGS = 2, 8, 16
READ_ON, FEW_PATHS = 4, 2
NEAR_FRAMES, AWAY_FRAMES, FARTHEST = 0.03 * RATE, 0.01 * RATE, 6.0
SLACK_FRAMES = 0.15 * RATE
BROKEN_OFF_PRIOR, EARLIER_PRIOR = -0.5, -1.0
CLEARLY = 1.0


@dataclass(frozen=True, slots=True)
class Beginning:
    """The first sound after a pause is note `index`, read on from `path`; `prior` is how much less
    that is to be expected than going on in place, a note."""

    index: int
    path: Path
    prior: float


class Pause:
    """Tells quiet from sound by the level of the notes heard last."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._levels: deque[float] = deque(maxlen=REMEMBERED)

    def heard(self, frame: float) -> None:
        """A note was settled there."""
        self._levels.append(float(self._levels_from(frame).max()))

    def _levels_from(self, frame: float) -> Rows:
        """Of the first hops of a note, all known when the note net has looked at it."""
        first = int(frame // HOP)
        levels: Rows = self._bank.sound_rows.rows(first, first + LEVEL_HOPS)[:, -1]
        return levels

    def has_no_note(self, found: Found) -> bool:
        """Whether the note was missed, or is taken to be where nothing sounds."""
        return found.frame is None or not self._is_loud(self._levels_from(found.frame)).any()

    def is_quiet(self, end_hop: int) -> bool:
        """Whether nothing sounded for a while up to a hop (which must be known)."""
        return not self._loud(end_hop - QUIET_HOPS, end_hop).any()

    def resumed_hop(self, last_frame: float, low: int, end: int) -> int | None:
        """The first hop from `low` on, before `end`, at which sound comes back after a pause; the
        last attack known was at `last_frame`."""
        start = max(low - QUIET_HOPS, int(last_frame // HOP))
        quiet_run = 0
        for hop, is_loud in enumerate(self._loud(start, end), start=start):
            if is_loud and quiet_run >= QUIET_HOPS and hop >= low:
                return hop
            quiet_run = 0 if is_loud else quiet_run + 1
        return None

    def _loud(self, start: int, end: int) -> NDArray[np.bool_]:
        """Whether hops start .. end - 1 are as loud as a note."""
        return self._is_loud(self._bank.sound_rows.rows(start, end)[:, -1])

    def _is_loud(self, levels: Rows) -> NDArray[np.bool_]:
        return np.asarray(levels > max(self._levels) - QUIET_UNDER)


class Restart:
    """The notes that a sound at `hop` may be, given the path that has it in place."""

    def __init__(
        self, dues: Sequence[Due], path: Path, hop: int, broken_off: int, unsettled: int
    ) -> None:
        self._dues = dues
        self._frame = hop * HOP + SEEN_EARLY_FRAMES
        path = path.fresh()
        off = [abs(d.frame + path.lean.at(d.frame) - self._frame) for d in dues[broken_off:]]
        self.due_now = broken_off + int(np.argmin(off))
        first = max(0, broken_off - MOST_BACK, unsettled + 1 - MOST_BEGINNINGS)
        self._in_place = [
            Beginning(k, path, 0.0)
            for k in range(self.due_now - 1, self.due_now + 2)
            if unsettled < k < len(dues)
        ]
        self._again = [
            Beginning(
                k,
                path.begun_again(dues[k].frame, self._frame),
                BROKEN_OFF_PRIOR if k == broken_off else EARLIER_PRIOR,
            )
            for k in range(first, unsettled + 1)
        ]

    @property
    def is_late(self) -> bool:
        """Whether so many notes were missed before the sound that it may be a new beginning."""
        return self.due_now - self._again[-1].index >= FEWEST_MISSED

    @property
    def needs_frame(self) -> float:
        """So much sound is needed at least to tell."""
        return self._frame + SLACK_FRAMES + REACH + max(map(self._read_on, self._again))

    def _read_on(self, beginning: Beginning) -> float:
        last = self._dues[min(beginning.index + READ_ON, len(self._dues)) - 1]
        passed = last.frame - self._dues[beginning.index].frame
        return passed * (1 + beginning.path.lean.growth)

    def fits(self, reader: Reader) -> list[float] | None:
        """How well each way to go on fits; None while that needs more sound."""
        fits = [_fit(reader, self._dues, b, self._frame) for b in (*self._in_place, *self._again)]
        known = [fit for fit in fits if fit is not None]
        return known if len(known) == len(fits) else None

    def begun_again(self, fits: Sequence[float]) -> Beginning | None:
        """Where the player has begun again; None if not, but goes on in place."""
        in_place, again = fits[: len(self._in_place)], fits[len(self._in_place) :]
        best = int(np.argmax(again))
        return self._again[best] if again[best] > max([-CLEARLY, *in_place]) + CLEARLY else None


def _fit(
    reader: Reader, dues: Sequence[Due], beginning: Beginning, at_frame: float
) -> float | None:
    """How well the next notes fit, a note, if the first is at a frame; None while that needs more
    sound."""
    paths: tuple[Path, ...] = (beginning.path,)
    for index in range(beginning.index, min(beginning.index + READ_ON, len(dues))):
        longer = reader.longer(index, paths)
        if longer is None:
            return None
        if index == beginning.index:
            longer = tuple(replace(p, score=p.score - _away(p, at_frame)) for p in longer)
            longer = tuple(sorted(longer, key=lambda p: -p.score))
        paths = longer[:FEW_PATHS]
    return paths[0].score / READ_ON + beginning.prior


def _away(path: Path, at_frame: float) -> float:
    """The loss of log chance if the last attack is not near a frame."""
    if path.trail[-1].frame is None:
        return 0.0
    return min(FARTHEST, max(0.0, abs(path.last_frame - at_frame) - NEAR_FRAMES) / AWAY_FRAMES)
