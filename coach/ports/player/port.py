"""The simulated player as a port: it hears no click, it plays the plan it is given.

In real time it waits by the clock, so that its blocks come as a microphone's would; otherwise it
never waits.  Either way the frames are the same.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.errors import CoachError
from coach.ports.player.skill import Fault, PlayedNote, Skill, learned, perform
from coach.ports.player.tone import render

LEAD_S = 0.25
TAIL_S = 1.0
FADE_S = 0.02
FLOOR_DB = -78.0
ROOM_S, ROOM_DB = 0.35, -12.0
FLOOR_SECONDS = 4
# Later than this we stood still, and so did the player.
LATE_LIMIT_S = 2.0


class PlayerPort:
    """A player of this `skill`, who learns from take to take.

    `room` adds a little reverberation and a noise floor.  `scripts` prescribes faults: number of
    the take (from 1), then index of the note.  `clock` (seconds) and `sleep` serve `realtime`.
    """

    def __init__(
        self,
        rate: int = 48000,
        skill: Skill | None = None,
        seed: int = 1,
        realtime: bool = True,
        block_frames: int = 480,
        *,
        room: bool = True,
        scripts: Mapping[int, Mapping[int, Fault]] | None = None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._rate, self._seed, self._realtime = rate, seed, realtime
        self._block_frames = block_frames
        self._scripts = scripts or {}
        self._clock, self._sleep = clock, sleep
        self._room = _room(rate) if room else None
        self._floor = _floor(rate) if room else np.zeros(block_frames, dtype=np.float32)
        self._began_s = clock()
        self._frame = 0
        self._take_frame, self._sound = 0, np.zeros(0, dtype=np.float32)
        self.skill = skill or Skill()
        self.takes = 0
        self.played: tuple[PlayedNote, ...] = ()

    @property
    def rate(self) -> int:
        return self._rate

    @property
    def ended(self) -> bool:
        """Never: the player has all day."""
        return False

    def earliest_frame(self) -> int:
        return max(self._frame, self.position()) + int(LEAD_S * self._rate)

    def position(self) -> int:
        """The frame being captured now (not in real time: the end of the last chunk)."""
        if not self._realtime:
            return self._frame
        return max(self._frame, int((self._clock() - self._began_s) * self._rate))

    def begin(self, plan: Plan) -> None:
        """Play the plan: perform and sound the whole take; learn from it for the next one."""
        if plan.rate != self._rate:
            raise CoachError(
                f"the plan has {plan.rate} frames a second, the player {self._rate}",
                hint="use one rate for both",
            )
        self.takes += 1
        rng = Random(f"{self._seed}/{self.takes}")
        script = self._scripts.get(self.takes)
        self.played = perform(plan, self.skill, rng, script=script)
        self.skill = learned(self.skill)
        self._take_frame = self._frame
        end = plan.end_frame + int(TAIL_S * self._rate)
        self._sound = self._in_room(
            render(self.played, self._rate, self._frame, end, seed=rng.getrandbits(31))
        )

    def end(self) -> None:
        """Stop playing: what still sounds is faded out."""
        fade = int(FADE_S * self._rate)
        left = self._sound[self._frame - self._take_frame :][:fade]
        self._sound = left * np.linspace(1, 0, len(left), dtype=np.float32)
        self._take_frame = self._frame

    def read(self) -> Chunk:
        """The next block; in real time, once it has been captured."""
        frame, count = self._frame, self._block_frames
        if self._realtime:
            wait_s = self._began_s + (frame + count) / self._rate - self._clock()
            if wait_s > 0:
                self._sleep(wait_s)
            elif wait_s < -LATE_LIMIT_S:
                self._began_s -= wait_s
        self._frame += count
        samples: Any = self._block(frame, count)
        return Chunk(frame, count, samples)

    def _block(self, frame: int, count: int) -> NDArray[np.float32]:
        places = np.arange(frame, frame + count)
        block = np.asarray(np.take(self._floor, places, mode="wrap"))
        low = frame - self._take_frame
        here = self._sound[low : low + count]
        block[: len(here)] += here
        return block

    def _in_room(self, sound: NDArray[np.float32]) -> NDArray[np.float32]:
        """The sound and its echo; nothing comes before the sound itself."""
        if self._room is None:
            return sound
        return np.asarray(sound + _echo(sound, self._room), dtype=np.float32)


def _echo(sound: NDArray[np.float32], room: NDArray[np.float32]) -> NDArray[np.float64]:
    """The sound (n,) convolved, piece by piece, with a room's answer to one sample: n samples."""
    size = 1 << (4 * len(room)).bit_length()
    answer = np.fft.rfft(room, size)
    step = size - len(room) + 1
    out = np.zeros(len(sound) + size)
    for start in range(0, len(sound), step):
        piece = np.fft.rfft(sound[start : start + step], size)
        out[start : start + size] += np.fft.irfft(piece * answer, size)
    return out[: len(sound)]


def _room(rate: int) -> NDArray[np.float32]:
    """A small room: noise that dies away by 60 dB in `ROOM_S`, after 5 ms, `ROOM_DB` in energy."""
    count = int(ROOM_S * rate)
    tail = np.random.default_rng(7).standard_normal(count)
    tail *= 10 ** (-3 * np.arange(count) / count)
    tail[: int(0.005 * rate)] = 0
    tail *= 10 ** (ROOM_DB / 20) / np.sqrt(np.sum(tail**2))
    return tail.astype(np.float32)


def _floor(rate: int) -> NDArray[np.float32]:
    """Faint noise for the silence between notes."""
    noise = np.random.default_rng(8).standard_normal(FLOOR_SECONDS * rate)
    return (noise * 10 ** (FLOOR_DB / 20)).astype(np.float32)
