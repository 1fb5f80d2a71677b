"""The computer's clock against frames: the only place that reads a clock.

`slack = now * rate - captured frames` never falls below the time that a frame needs to arrive; it
is larger whenever we looked late.  So the smallest slack of the last seconds, the lower envelope,
ties the two clocks together, and slack that stays above it means that frames were lost.  The
driver's own time is not used: on several hosts it is zero or wrong, and this needs no trust in it.
"""

from __future__ import annotations

import datetime
import time
from collections import deque
from collections.abc import Callable
from functools import partial
from statistics import median

from coach.core.take import Chunk, Gap
from coach.core.timeline import Plan

BUCKET_S = 2.0
ENOUGH_LOOKS = 20
HOLD_S = 0.1
HOLD_LOOKS = 8
CLOCK_RATE = 48000
LOOK_S = 0.005


def _steady_clock() -> Callable[[], float]:
    """A clock that goes on while the computer sleeps, as `perf_counter` does on Windows only: Linux
    has one for it, and that of macOS by the other name does."""
    for name in ("CLOCK_BOOTTIME", "CLOCK_MONOTONIC"):
        if hasattr(time, name):
            return partial(time.clock_gettime, getattr(time, name))
    return time.perf_counter


_steady_s = _steady_clock()


def now_s() -> float:
    """The computer's steady clock in seconds, from an arbitrary zero; sleep counts."""
    return _steady_s()


def day_number() -> int:
    """Today's number by the local calendar; tomorrow's is one more."""
    return datetime.date.today().toordinal()


def wait(seconds: float) -> None:
    time.sleep(max(0.0, seconds))


class FrameClock:
    """Frames against seconds by the lower envelope of the last two to four seconds.

    Two crystals drift apart by up to some 100 parts in a million (common practice, no source), a
    third of a millisecond in these seconds; so old looks are forgotten.
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self._old: float | None = None
        self._new: float | None = None
        self._new_from_s = 0.0
        self._looks = 0

    @property
    def known(self) -> bool:
        return self._new is not None

    @property
    def floor_frames(self) -> float:
        """The smallest slack of late, in frames; 0 before the first look."""
        return min((s for s in (self._old, self._new) if s is not None), default=0.0)

    def slack_frames(self, captured: int, at_s: float) -> float:
        return at_s * self.rate - captured

    def observe(self, captured: int, at_s: float) -> None:
        """Note that `captured` frames had come by `at_s` (count first, then read the clock)."""
        if self._new is None:
            self._new_from_s = at_s
        elif at_s - self._new_from_s > BUCKET_S and self._looks >= ENOUGH_LOOKS:
            self._old, self._new, self._looks, self._new_from_s = self._new, None, 0, at_s
        slack = self.slack_frames(captured, at_s)
        self._new = slack if self._new is None else min(self._new, slack)
        self._looks += 1

    def frame_at(self, at_s: float) -> float:
        """The frame captured at a time."""
        return at_s * self.rate - self.floor_frames

    def time_at(self, frame: float) -> float:
        """When a frame is captured, in seconds of `now_s`."""
        return (frame + self.floor_frames) / self.rate


class LossWatch:
    """Tells lost frames from late ones.

    Feed `step` each look at the stream.  Late frames turn up within a few looks, lost ones don't:
    so slack above the reach (a block, or what the host delivers at once if that is more; a quarter
    of it once the driver has flagged a loss) is held back for `HOLD_S`, then called lost.
    """

    def __init__(self, rate: int, block_frames: int) -> None:
        self.clock = FrameClock(rate)
        self._block = block_frames
        self._bursts: deque[int] = deque(maxlen=32)
        self._last: tuple[int, float] | None = None
        self._flagged = False
        self._since_s: float | None = None
        self._lowest = 0.0
        self._looks = 0

    def step(self, captured: int, at_s: float, *, flagged: bool = False) -> int | None:
        """0: all is well up to `captured`; None: hold it back; n: n frames were lost before
        whatever is held back (the caller counts them into `captured` from now on)."""
        came = self._came(captured, at_s)
        self._flagged = self._flagged or flagged
        slack = self.clock.slack_frames(captured, at_s)
        if not self.clock.known or slack <= self.clock.floor_frames + self._reach():
            self.clock.observe(captured, at_s)
            self._settle()
            return 0
        # While nothing comes at all it may all be late; lost is what others overtake.
        return self._suspect(slack, at_s) if came else None

    def _reach(self) -> float:
        burst = max(self._block, int(median(self._bursts)) if self._bursts else 0)
        return burst / 4 if self._flagged else burst

    def _came(self, captured: int, at_s: float) -> int:
        """Frames since the last look; what comes between two close looks is the host's burst."""
        before, before_s = self._last or (captured, at_s)
        self._last = (captured, at_s)
        came = captured - before
        if came > 0 and at_s - before_s < LOOK_S:
            self._bursts.append(came)
        return came

    def _suspect(self, slack: float, at_s: float) -> int | None:
        if self._since_s is None:
            self._since_s, self._lowest, self._looks = at_s, slack, 0
        self._lowest = min(self._lowest, slack)
        self._looks += 1
        if at_s - self._since_s < HOLD_S or self._looks < HOLD_LOOKS:
            return None
        lost = round(self._lowest - self.clock.floor_frames)
        if self._last is not None:
            self._last = (self._last[0] + lost, at_s)
        self._settle()
        return lost

    def _settle(self) -> None:
        self._since_s = None
        self._flagged = False


class ClockPort:
    """A port without a sound device: frames are the computer's clock at 48,000 a second.

    The base for playing by MIDI alone; it hears and sounds nothing.
    """

    rate = CLOCK_RATE
    ended = False

    def __init__(self, lead_s: float = 0.3) -> None:
        self._lead_frames = round(lead_s * self.rate)
        self._zero_s = now_s()
        self._read = 0

    def __enter__(self) -> ClockPort:
        return self.open()

    def __exit__(self, *_: object) -> None:
        self.close()

    def open(self) -> ClockPort:
        self._zero_s, self._read = now_s(), 0
        return self

    def close(self) -> None:
        pass

    def earliest_frame(self) -> int:
        return self.position() + self._lead_frames

    def position(self) -> int:
        return int(self.frame_at(now_s()))

    def begin(self, plan: Plan) -> None:
        pass

    def end(self) -> None:
        pass

    def frame_at(self, at_s: float) -> float:
        return (at_s - self._zero_s) * self.rate

    def time_at(self, frame: float) -> float:
        return self._zero_s + frame / self.rate

    def read(self) -> Chunk:
        """A second and more since the last one: we stood still, and a gap tells it."""
        wait(LOOK_S)
        start, self._read = self._read, self.position()
        length = self._read - start
        return Chunk(start, length, gaps=(Gap(start, length),) if length > self.rate else ())
