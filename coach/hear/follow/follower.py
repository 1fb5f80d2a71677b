"""The follower: note after note of the score is looked for in the sound.

What each note can have been (one of the attacks around its place, or not played: reading.py) is
kept as several paths (paths.py), until all that are worth anything say the same of a note, or so
many notes have followed that it must be said.  Notes that are only missed wait a little longer, for
the player may have broken off and begin again (restart.py).  Everything depends on the sound alone,
not on how it was cut.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import replace

from coach.core.timeline import Due
from coach.hear.follow.bank import Bank
from coach.hear.follow.between import Between, look_between
from coach.hear.follow.frames import HOP, RATE
from coach.hear.follow.lean import Lean
from coach.hear.follow.net import nets
from coach.hear.follow.paths import ALIKE_FRAMES, Found, Path, agreement
from coach.hear.follow.reading import WHOLE_LAG_HOPS, Glimpse, Reader
from coach.hear.follow.restart import FEWEST_MISSED, Pause, Restart

SURE_SHARE = 0.95
MOST_WAITING = 3
DOUBTED_ABOVE = 0.5
SURELY_REPEATED = 0.5
LONGEST_BETWEEN_S = 1.5
UNTRIED = -1
# So long may a pause be after which the player is expected to begin again anywhere.
LONGEST_PAUSE_HOPS = int(1.2 * RATE / HOP)


class Follower:
    """Finds the `dues` (frames at the working rate) in a bank of features, in order."""

    def __init__(self, dues: Sequence[Due], bank: Bank) -> None:
        self._dues = tuple(dues)
        self._bank = bank
        self._nets = nets()
        self._reader = Reader(dues, bank, self._nets)
        self._paths: tuple[Path, ...] = (Path(Lean(dues[0].frame if dues else 0)),)
        self._next = 0
        self._settled = 0
        self._pause = Pause(bank)
        self._restart: Restart | None = None
        self._searched_hop = 0
        self._last_heard: Found | None = None
        self._between: deque[Between] = deque()
        # Up to where the features went when the next note could not be read yet, or be glimpsed.
        self._tried_hop = self._glimpsed_hop = UNTRIED

    @property
    def resolved(self) -> int:
        """So many notes have been settled."""
        return self._settled

    @property
    def tuning(self) -> float:
        """The player's tuning in semitones, as far as it is known."""
        return self._reader.tuning

    @tuning.setter
    def tuning(self, semitones: float) -> None:
        self._reader.tuning = semitones

    def settle_next(self) -> Found | None:
        """The next note, if the features known by now settle it."""
        while True:
            while not self._is_certain():
                if not self._go_on():
                    return None
            if self._paths[0].trail[0].index >= self._settled:
                return self._settle()
            self._pass_over()

    def takeover_again(self, found: Found) -> float | None:
        """When the pitch changed, now that the note is over: looked for farther away."""
        if found.takeover_frame is None:
            return None
        return self._reader.takeover_frame(found, WHOLE_LAG_HOPS)

    def take_between(self) -> Between | None:
        """The first attack not taken yet that nobody asked for, before the note settled last."""
        return self._between.popleft() if self._between else None

    def earliest_next(self) -> float:
        """The first frame at which the next note could be found; far away after the last."""
        return min(self._earliest(path) for path in self._paths)

    def _earliest(self, path: Path) -> float:
        heard = [f.frame for f in path.trail if f.frame is not None]
        if heard:
            return heard[0]
        if self._next >= len(self._dues):
            return float("inf")
        return self._reader.window(self._next, path)[0] * HOP

    def glimpse(self) -> Glimpse | None:
        """The newest note that shows on the best path, long before it can be settled: it may turn
        out to be elsewhere, or not to have been played."""
        path = self._paths[0]
        if self._next < self._settled or self._bank.end_hop == self._glimpsed_hop:
            return None
        self._glimpsed_hop = self._bank.end_hop
        front = self._reader.glimpse(self._next, path) if self._next < len(self._dues) else None
        if front is not None:
            return front
        seen = [Glimpse(f.index, f.frame, f.sure) for f in path.trail if f.frame is not None]
        return seen[-1] if seen and seen[-1].index >= self._settled else None

    def _is_certain(self) -> bool:
        """Whether the first note not settled yet can be."""
        trail = self._paths[0].trail
        if not trail or self._restart is not None or self._may_be_a_pause():
            return False
        if len(trail) > MOST_WAITING or self._next >= len(self._dues):
            return True
        return agreement(self._paths) >= SURE_SHARE

    def _may_be_a_pause(self) -> bool:
        """Whether the player may have broken off before the first note not settled yet."""
        trail = self._paths[0].trail
        if self._last_heard is None or not trail or not all(map(self._pause.has_no_note, trail)):
            return False
        if len(trail) < FEWEST_MISSED:
            return self._next < len(self._dues)
        if len(trail) > MOST_WAITING and not self._pause.is_quiet(self._searched_hop):
            return False
        return self._searched_hop < self._pause_end_hop()

    def _pause_end_hop(self) -> int:
        return int(self._paths[0].trail[0].low_frame // HOP) + LONGEST_PAUSE_HOPS

    def _go_on(self) -> bool:
        """One note more on every path, or a new beginning; False while that needs more sound."""
        if self._restart is None and self._may_be_a_pause() and not self._search():
            return False
        if self._restart is not None:
            return self._restart_decided(self._restart)
        if self._next >= len(self._dues):
            return bool(self._paths[0].trail)
        return self._step()

    def _step(self) -> bool:
        if self._bank.end_hop == self._tried_hop and not self._reader.lacks_sound:
            return False
        longer = self._reader.longer(self._next, self._paths)
        if longer is None:
            self._tried_hop = self._bank.end_hop
            return False
        self._read_on(longer, self._next + 1)
        return True

    def _read_on(self, paths: tuple[Path, ...], index: int) -> None:
        self._paths, self._next = paths, index
        self._tried_hop = UNTRIED

    def _search(self) -> bool:
        """Look for sound after a pause, as far as the next note is looked for."""
        path = self._paths[0]
        if len(path.trail) < FEWEST_MISSED:
            return True
        last = self._next >= len(self._dues)
        end = self._pause_end_hop() if last else self._reader.window(self._next, path)[1] + 1
        if self._bank.end_hop < end:
            return False
        hop = self._pause.resumed_hop(path.last_frame, self._searched_hop, end)
        self._searched_hop = max(self._searched_hop, end)
        if hop is not None and self._last_heard is not None:
            restart = Restart(self._dues, path, hop, self._last_heard.index + 1, self._settled)
            self._restart = restart if restart.is_late else None
        return True

    def _restart_decided(self, restart: Restart) -> bool:
        """Go on in place or from where the player has begun again; False while not known."""
        if self._bank.end_frame < restart.needs_frame:
            return False
        fits = restart.fits(self._reader)
        if fits is None:
            return False
        self._restart = None
        beginning = restart.begun_again(fits)
        if beginning is not None:
            self._read_on((beginning.path,), beginning.index)
        return True

    def _pass_over(self) -> None:
        """A note played once more, after a break."""
        found = self._agreed()
        if found.frame is not None and found.there > SURELY_REPEATED:
            pitch = self._dues[found.index].pitch + (found.pitch_offset or 0)
            self._between.append(Between(found.frame, pitch))
            self._last_heard = found

    def _agreed(self) -> Found:
        """What the best path says of its first note; paths that say otherwise are given up."""
        found = self._paths[0].trail[0]
        self._read_on(
            tuple(p.settled() for p in self._paths if p.trail[0].is_like(found)), self._next
        )
        return found

    def _settle(self) -> Found:
        share = agreement(self._paths)
        found = self._agreed()
        if found.frame is None:
            settled = self._doubted(replace(found, sure=share))
        else:
            settled = replace(found, sure=min(found.sure, share))
            settled = self._reader.looked_at_twice(settled)
            settled = replace(settled, takeover_frame=self._reader.takeover_frame(settled))
            self._keep_between(settled)
            self._pause.heard(found.frame)
            self._last_heard = settled
        self._settled += 1
        self._reader.forget(self._settled)
        return settled

    def _doubted(self, missed: Found) -> Found:
        """A note said to be missing though something like it was heard is told as heard, but not
        surely; not if that was the note before or the next one."""
        taken = [f.frame for p in self._paths for f in p.trail[:1]]
        taken.append(self._last_heard.frame if self._last_heard else None)
        at = missed.rival_frame
        if at is None or missed.there * missed.right < DOUBTED_ABOVE:
            return missed
        if any(frame is not None and abs(at - frame) <= ALIKE_FRAMES for frame in taken):
            return missed
        return replace(missed, frame=at, sure=0.0, pitch_offset=0)

    def _keep_between(self, found: Found) -> None:
        before = self._last_heard
        if before is None or before.frame is None or found.frame is None:
            return
        earliest = max(before.frame, found.frame - LONGEST_BETWEEN_S * RATE)
        earlier = earliest, self._dues[before.index].pitch
        later = found.frame, self._dues[found.index].pitch
        between = look_between(self._bank, self._nets, earlier, later, self.tuning)
        if between is not None:
            self._between.append(between)
