"""The pitch of a steady note, twenty times a second, to a fraction of a cent.

Every reading looks at 171 ms of sound.  Its two ends must agree on the pitch (else the note moves,
and there is no reading); the whole refines it.  The readings lie on a fixed grid of frames, so they
do not depend on the blocks in which the sound comes.  A reading belongs to the middle of its
window.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.pitch import cents_between
from coach.hear.period import find_pitch, refine
from coach.hear.whole import is_whole, whole

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

WINDOW_S, END_S, HOP_S = 0.171, 0.093, 0.05
FAINTEST_DB, CLEAR = -55.0, 0.85
STEADY_CENTS = 40.0
# What may be left of a drone when somebody moves is not to be taken for a note.
DRONE_LEFT_DB = -15.0


@dataclass(frozen=True, slots=True)
class PitchReading:
    """The pitch at `frame`: `hz` None where nothing steady sounds.  `level_db`: against full
    scale."""

    frame: int
    hz: float | None
    level_db: float


class Tuner:
    """Readings from sound at `rate` frames a second, fed in blocks of any size, one after the
    other.  `drone_hz`: a drone of this pitch (with harmonics) sounds all the time and is taken out
    of the sound as it was in the first second that is fed, which must hold nothing else."""

    def __init__(self, rate: int, *, drone_hz: float | None = None) -> None:
        self.rate = rate
        self._window, self._end = round(WINDOW_S * rate), round(END_S * rate)
        self._hop = round(HOP_S * rate)
        self._buffer: Samples = np.zeros(0, np.float32)
        self._frame: int | None = None
        self._drone = None if drone_hz is None else DroneFilter(rate, drone_hz)

    @property
    def delay_frames(self) -> int:
        """By how much a reading's frame lies behind the sound that has come."""
        return self._window - self._window // 2

    def feed(self, frame: int, samples: Samples) -> list[PitchReading]:
        """Readings that can be made by now; `samples` float32 (n,) from `frame` on.  A block in
        which something is no sound is left out."""
        if not is_whole(samples):
            return []
        samples, _ = whole(frame, samples, self.rate)
        if self._frame is None:
            self._frame = frame
        if frame != self._frame + len(self._buffer):
            self._frame, self._buffer = frame, np.zeros(0, np.float32)
        if self._drone is not None:
            samples = self._drone.feed(frame, samples)
        self._buffer = np.concatenate([self._buffer, samples])
        readings = []
        while len(self._buffer) >= self._window:
            window = self._buffer[: self._window].astype(np.float64)
            readings.append(self._read(self._frame + self._window // 2, window))
            self._buffer = self._buffer[self._hop :]
            self._frame += self._hop
        return readings

    def _read(self, frame: int, window: Floats) -> PitchReading:
        level_db = float(10 * np.log10(np.mean(window**2) + 1e-12))
        left_db = -120.0 if self._drone is None else self._drone.level_db + DRONE_LEFT_DB
        if level_db < max(FAINTEST_DB, left_db):
            return PitchReading(frame, None, level_db)
        first, last = (
            find_pitch(part, self.rate) for part in (window[: self._end], window[-self._end :])
        )
        if first is None or last is None or min(first.clarity, last.clarity) < CLEAR:
            return PitchReading(frame, None, level_db)
        if abs(cents_between(first.hz, last.hz)) > STEADY_CENTS:
            return PitchReading(frame, None, level_db)
        middle = float(np.sqrt(first.hz * last.hz))
        return PitchReading(frame, refine(window - np.mean(window), self.rate, middle), level_db)


LEARN_S = 1.0
HARMONICS = 16


class DroneFilter:
    """Takes a steady drone out of the sound, its harmonics as they were in the first second.

    The drone is rendered on the same frames as the input, so its phases stay where they were; when
    somebody moves in the room they do not, and some of it comes back: headphones are better.
    """

    def __init__(self, rate: int, hz: float) -> None:
        orders = np.arange(1, HARMONICS + 1)
        self._turns = 2 * np.pi * hz / rate * orders[orders * hz < 0.45 * rate]
        self._learn_frames = round(LEARN_S * rate)
        self._heard: list[tuple[int, Samples]] = []
        self._amplitudes: NDArray[np.complex128] | None = None
        self.level_db = -120.0

    def feed(self, frame: int, samples: Samples) -> Samples:
        """The sound without the drone; silence while it is being learned."""
        if self._amplitudes is not None:
            return (samples - self._drone(frame, len(samples))).astype(np.float32)
        room = self._learn_frames - sum(len(part) for _, part in self._heard)
        self._heard.append((frame, samples[:room]))
        silence = np.zeros(min(room, len(samples)), np.float32)
        if len(samples) < room:
            return silence
        self._learn(self._heard[0][0], np.concatenate([part for _, part in self._heard]))
        self._heard.clear()
        return np.concatenate([silence, self.feed(frame + room, samples[room:])])

    def _waves(self, frame: int, length: int) -> NDArray[np.complex128]:
        waves: NDArray[np.complex128] = np.exp(
            1j * np.outer(np.arange(frame, frame + length), self._turns)
        )
        return waves

    def _learn(self, frame: int, sound: Samples) -> None:
        """Least squares over the second half, when the drone has faded in."""
        half = len(sound) // 2
        waves = self._waves(frame + half, len(sound) - half)
        both = np.concatenate([waves.real, waves.imag], axis=1)
        fitted = np.linalg.lstsq(both, sound[half:].astype(np.float64), rcond=None)[0]
        count = len(self._turns)
        self._amplitudes = fitted[:count] - 1j * fitted[count:]
        self.level_db = float(10 * np.log10(np.sum(fitted**2) / 2 + 1e-12))

    def _drone(self, frame: int, length: int) -> Floats:
        assert self._amplitudes is not None
        drone: Floats = (self._waves(frame, length) @ self._amplitudes).real
        return drone
