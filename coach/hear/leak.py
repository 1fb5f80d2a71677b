"""Taking the ensemble that comes out of the loudspeakers out of the microphone.

What was played out is known to the sample; how the room answers it is fitted while it is heard
(`leakroom`), in the lead-in and then under the playing, and its echo is taken away.  Nothing is
held back: a sample comes out in the call in which it went in, less the echo by the fit of the
moment.  Work is cut at fixed frames, so blocks of any size give the same result.

That needs one clock for microphone and loudspeakers.  Before the player's entry what remains is
measured against what was expected, and where it is more (two clocks, a loudspeaker that rattles)
more is expected from then on.

`residual_db` says what is expected to remain: what the fit does not know yet (where the ensemble
sounds in a band in which it had not sounded before, or only under the player), and a share that no
fit takes away (`LEFT_DB`; the echo beyond its reach).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from coach.hear.leakroom import BEFORE, LONG, RATE, STRETCH, TAPS, RoomFit
from coach.hear.resample import Resampler

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]
Played = Callable[[int, int], Samples]

HOP, ASKED = 256, 64
STEP = 4096
PAST = 512
KEPT_HOPS = 500
LEFT_DB = -25.0
# In the last 1.3 s before the entry, 48 takes each: with one clock 7.3 dB at most remained over
# what was expected (in hard rooms; -2 in usual ones), with clocks 20 ppm apart 11.6 at least.
SURPLUS_DB, JUDGED_HOPS = 9.0, 80
LEVEL_DECAY = 10 ** (-1.0 / 10 * HOP / RATE)  # 1 dB a second
FLOOR_DB = -120.0
NO_POWER = 1e-12
WINDOW = np.hanning(PAST)
POWER = 2 / (PAST * float(np.sum(WINDOW**2)))


class LeakCanceller:
    """Cleans sound at `rate` frames a second of what `played(frame, length)` (float32, on the same
    axis of frames) has put out; the player is silent up to `silent_until_frame`.

    `played` is asked once for every frame, in order, up to `ahead_frames` after the newest frame
    fed: all of it must be known that early.  `delay_frames` is what is added to the sound's way.
    """

    delay_frames = 0

    def __init__(self, rate: int, played: Played, silent_until_frame: int = 0) -> None:
        self.rate = rate
        self._silent_until = silent_until_frame
        self._before: list[tuple[float, float]] = []
        self.surplus_db = 0.0
        self._played = played
        self._fit = RoomFit()
        self._down, self._down_played = Resampler(rate, RATE), Resampler(rate, RATE)
        self._up = Resampler(RATE, rate)
        self._origin: int | None = None
        self._asked = 0
        self._end_frame = 0
        self._sounded = False
        # At the ear's rate, from `_from` on; what was played begins `_lead` earlier.
        self._lead = TAPS - 1 - BEFORE
        self._heard: Floats = np.zeros(0)
        self._given: Floats = np.zeros(self._lead)
        self._from = 0
        self._hops = self._steps = 0
        self._echo: Samples = np.zeros(0, np.float32)
        self._echo_from = 0
        self._echo16: list[Floats] = []
        self._left: deque[Floats] = deque(maxlen=KEPT_HOPS)
        self._levels: deque[float] = deque(maxlen=KEPT_HOPS)
        self._leak = 0.0
        self._level = 0.0
        self._doubt: Floats = self._fit.unknown(PAST)
        self._lost = 0.0

    @property
    def ahead_frames(self) -> int:
        """How early what is played must be known."""
        return int((HOP + BEFORE + 2 * ASKED) * self.rate / RATE) + 2 * self._down.delay_frames

    def feed(self, frame: int, samples: Samples) -> Samples:
        """The samples (float32 (n,)) from `frame` on, which must follow those before, cleaned."""
        if self._origin is None:
            self._origin = self._asked = self._end_frame = frame
        if frame != self._end_frame:
            raise ValueError(f"frame {self._end_frame} was to come, not {frame}")
        cleaned = [
            self._piece(samples[start : start + self.rate // 4])
            for start in range(0, len(samples), self.rate // 4)
        ]
        return np.concatenate(cleaned) if cleaned else np.zeros(0, np.float32)

    @property
    def leak_db(self) -> float:
        """The ensemble in the microphone against the player, both at their loudest."""
        return _db(self._leak, self._level)

    def residual_db(self, frame: int, length: int, *, hz: Sequence[float] = ()) -> float:
        """What is expected to remain of the ensemble from `frame` on, its loudest 16 ms against the
        player's loud tone; near the frequencies `hz` only, if any are given.

        Of the last seconds fed; what lies outside is left out (FLOOR_DB if all does).
        """
        first = self._hops - len(self._left)
        low = (frame - (self._origin or 0)) * RATE // (self.rate * HOP)
        high = (frame + length - (self._origin or 0)) * RATE // (self.rate * HOP) + 1
        chosen = range(max(0, low - first), max(0, min(len(self._left), high - first)))
        if not chosen:
            return FLOOR_DB
        bins = _bins(hz)
        left = max(float(self._left[k][bins].sum()) for k in chosen)
        left *= 10 ** (self.surplus_db / 10)
        return _db(left, max(self._levels[k] for k in chosen))

    def _piece(self, samples: Samples) -> Samples:
        start = self._end_frame - (self._origin or 0)
        self._end_frame += len(samples)
        self._heard = np.concatenate([self._heard, self._down.feed(samples).astype(np.float64)])
        while self._echo_from + len(self._echo) < start + len(samples):
            self._hop()
        echo = self._echo[start - self._echo_from :][: len(samples)]
        self._echo = self._echo[start + len(samples) - self._echo_from :]
        self._echo_from = start + len(samples)
        return samples - echo if self._sounded else samples

    def _hop(self) -> None:
        """The echo of one more hop, by the fit of the last whole step."""
        at = self._hops * HOP
        while (self._steps + 1) * STEP + HOP <= at:
            self._learn()
        self._ask(at + HOP + BEFORE)
        part = self._given_part(at - self._lead, at + HOP + BEFORE)
        echo = self._fit.echo(part, HOP)
        self._echo = np.concatenate([self._echo, self._up.feed(echo.astype(np.float32))])
        self._follow(part, echo)
        self._hops += 1

    def _follow(self, part: Floats, echo: Floats) -> None:
        """Note what may remain in this hop, and how loud the player was two hops ago."""
        spectrum = np.abs(np.fft.rfft(part[-PAST:] * WINDOW)) ** 2
        answer = np.abs(np.fft.rfft(self._fit.taps, LONG)[:: LONG // PAST]) ** 2
        self._left.append(POWER * spectrum * (self._doubt + self._lost * answer))
        self._echo16.append(echo)
        if len(self._echo16) > 2:
            at = (self._hops - 2) * HOP - self._from
            cleaned = self._heard[at : at + HOP] - self._echo16.pop(0)
            power = float(np.mean(cleaned**2))
            self._compare(power)
            self._level = max(self._level * LEVEL_DECAY, power)
        self._levels.append(self._level)
        self._leak = max(self._leak * LEVEL_DECAY, float(np.mean(echo**2)))

    def _compare(self, power: float) -> None:
        """Before the entry: what remained two hops ago, beside what was expected to."""
        frame = (self._origin or 0) + self._hops * HOP * self.rate // RATE
        if frame < self._silent_until:
            self._before.append((power, float(self._left[-3].sum())))
        elif self._before:
            self.surplus_db = _surplus_db(self._before)
            self._before = []

    def _ask(self, until: int) -> None:
        """Have what is played up to `until`, at the ear's rate."""
        length = max(1, ASKED * self.rate // RATE)
        while self._from + len(self._given) - self._lead < until:
            new = np.asarray(self._played(self._asked, length), np.float32)
            self._sounded = self._sounded or bool(np.any(new))
            self._asked += length
            self._given = np.concatenate([self._given, self._down_played.feed(new)])

    def _given_part(self, start: int, end: int) -> Floats:
        shift = self._lead - self._from
        return self._given[start + shift : end + shift]

    def _learn(self) -> None:
        """Take in the stretch that ends with one more step."""
        self._steps += 1
        end = self._steps * STEP
        if end >= STRETCH and self._sounded:
            heard = self._heard[end - STRETCH - self._from : end - self._from]
            start = end - STRETCH - self._lead
            self._fit.add(self._given_part(start, end + BEFORE), heard)
            self._fit.solve()
            self._doubt = self._fit.unknown(PAST)
            self._lost = 10 ** (LEFT_DB / 10) + self._fit.beyond
        self._forget(end + STEP - STRETCH)

    def _forget(self, keep_from: int) -> None:
        """Drop what no stretch will hold any more."""
        surplus = keep_from - self._from
        if surplus > 0:
            self._heard, self._given = self._heard[surplus:], self._given[surplus:]
            self._from = keep_from


def _surplus_db(before: Sequence[tuple[float, float]]) -> float:
    """How much more remained of late than the noise of the room and what was expected; 0 where it
    may be chance."""
    found, expected = np.array(before).T
    late = slice(-JUDGED_HOPS, None)
    noise = float(np.percentile(found, 5))
    ratio = (np.median(found[late]) - noise) / (np.median(expected[late]) + NO_POWER)
    surplus_db = 10 * float(np.log10(max(ratio, NO_POWER)))
    return surplus_db if surplus_db > SURPLUS_DB and len(before) >= 2 * JUDGED_HOPS else 0.0


def _bins(hz: Sequence[float]) -> NDArray[np.bool_]:
    """The bins of a spectrum of PAST samples that lie next to these frequencies; all for none."""
    centres = np.arange(PAST // 2 + 1) * RATE / PAST
    near = np.zeros(len(centres), bool)
    for one in hz:
        near |= np.abs(centres - one) <= 1.5 * RATE / PAST
    return near if len(hz) else ~near


def _db(power: float, against: float) -> float:
    ratio = (power + NO_POWER) / (against + NO_POWER)
    return max(FLOOR_DB, 10 * float(np.log10(ratio)))
