"""A recording of the ensemble in place of made sound: at the tempo of the plan, at its own pitch.

Between two places it is slower or faster by one share; at each place, and wherever the page says
that a note begins, the sound is left as it is (ports/stretch.py), so that attacks stay sharp and
bars lie where the plan has them.

Measured against the same music played slower (`python -m tests.benchmarks.laying`), at half speed:
attacks rise by 0.1 dB less here (0.2 where they are known 15 ms off only), 3.0 dB less by Rubber
Band in pedalboard 0.9.26, 2.2 dB less by Signalsmith Stretch in python-stretch 0.3.1; the middle of
long notes, vibrato and all, is off by 2.4 cents (95 %: 13) here, by 1.5 (11) and 1.7 (12) there.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Self

import numpy as np

from coach.core.tutti.bars import Positions
from coach.core.tutti.mixer import Mix
from coach.errors import CoachError
from coach.ports.click import Samples
from coach.ports.ensemble.track import limited
from coach.ports.stretch import laying

# The lowest string of a double bass with extension is a C of 33 Hz; its second harmonic carries.
LOWEST_HZ = 60.0
# So much is heard before the first place, and after the last at the tempo of the end.
BEFORE_S, AFTER_S = 0.05, 2.0
FADE_S = 0.03
SLOWEST_SPEED, FASTEST_SPEED = 0.1, 4.0


AS_IT_IS = Mix((0.0,))


class RecordingTrack:
    """`samples` (float32 (n,), at the rate of the plan and of `positions`) laid so that
    `positions.beats[k]` sounds at frame `planned[k]`; `onsets` are the beats at which notes begin.

    It is laid from its start as far as it is asked for, and kept; its mix has one voice, which is
    all of it.  CoachError where it would have to be played ten times slower, or over four times
    faster.
    """

    def __init__(
        self,
        samples: Samples,
        positions: Positions,
        planned: Sequence[int],
        onsets: Sequence[Fraction] = (),
        gain: float = 1.0,
    ) -> None:
        rate = positions.rate
        heard = _in_sound(positions, planned, len(samples))
        speeds = np.diff(heard[:, 0]) / np.maximum(np.diff(heard[:, 1]), 1)
        if speeds.min() < SLOWEST_SPEED or speeds.max() > FASTEST_SPEED:
            said = f"the recording would be played {speeds.min():.2f} to {speeds.max():.2f} as fast"
            hint = f"choose a tempo nearer to its own, {positions.usual_bpm:.0f} a minute"
            raise CoachError(said, "", hint)
        line, start, first = _line(heard, speeds, rate, len(samples))
        attacks = sorted(
            {int(frame) - start for frame in heard[:, 0]}
            | {round(positions.frame_at(beat)) - start for beat in onsets}
        )
        inside = [attack for attack in attacks if 0 < attack < line[0][-1]]
        part = samples[start : start + round(line[0][-1])]
        blocks = laying(part, rate, line, inside, LOWEST_HZ)
        length = round(line[1][-1])
        self.mix = AS_IT_IS
        self.start_frame, self.end_frame = first, first + length
        self._laid = _Laid(blocks, length, round(FADE_S * rate), gain)

    def mixed(self, mix: Mix) -> Self:
        """The same at another level; shares all that is laid."""
        other: Self = object.__new__(type(self))
        other.__dict__.update(self.__dict__, mix=mix)
        return other

    def prepare(self, frame: int, length_frames: int) -> None:
        """Lay all up to the end of a window; may run in another thread."""
        self._laid.until(frame + length_frames - self.start_frame)

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32 of shape (length_frames,), or (length_frames, 2), left
        and right, once it is out of the middle."""
        out = np.zeros(length_frames, np.float32)
        gain = np.float32(self.mix.gain(0))
        begin, end = max(frame, self.start_frame), min(frame + length_frames, self.end_frame)
        if gain > 0 and begin < end:
            self.prepare(frame, length_frames)
            wave = self._laid.wave[begin - self.start_frame : end - self.start_frame]
            out[begin - frame : end - frame] = gain * wave
        if self.mix.wide:
            out = out[:, None] * np.array(self.mix.sides(0), np.float32)
        return limited(out)


class _Laid:
    """Blocks of sound, taken one after the other as far as they are needed; faded in and out, so
    that it neither begins nor ends with a knock."""

    def __init__(self, blocks: Iterator[Samples], length: int, fade: int, gain: float) -> None:
        self.wave = np.zeros(length, np.float32)
        self._blocks, self._gain = blocks, np.float32(gain)
        self._made = 0
        self._lock = threading.Lock()
        fade = min(fade, length // 2)
        self._corners = ([0, fade, length - fade, length], [0.0, 1.0, 1.0, 0.0])

    def until(self, place: int) -> None:
        """Have all before `place`."""
        if self._made >= min(place, len(self.wave)):
            return
        with self._lock:
            while self._made < min(place, len(self.wave)):
                self._take(next(self._blocks))

    def _take(self, block: Samples) -> None:
        at = self._made
        block = block[: len(self.wave) - at]
        shape = np.interp(np.arange(at, at + len(block)), *self._corners)
        self.wave[at : at + len(block)] = self._gain * shape.astype(np.float32) * block
        self._made = at + len(block)


def _in_sound(
    positions: Positions, planned: Sequence[int], length: int
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Rows of (frame of the recording, frame of the plan) that lie in the recording."""
    rows = [
        (frame, plan)
        for frame, plan in zip(positions.frames, planned, strict=True)
        if 0 <= frame < length
    ]
    if len(rows) < 2:
        raise CoachError("these bars are not in the recording", "", "find its bars again")
    return np.array(rows, dtype=np.float64)


def _line(
    heard: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    speeds: np.ndarray[tuple[int], np.dtype[np.float64]],
    rate: int,
    length: int,
) -> tuple[tuple[np.ndarray, np.ndarray], int, int]:
    """(places and where they sound, both from 0; the frame of the recording and the frame of the
    plan that these 0 are)."""
    start = max(0.0, heard[0, 0] - round(BEFORE_S * rate))
    end = min(float(length), heard[-1, 0] + round(AFTER_S * rate))
    first = round(heard[0, 1] - (heard[0, 0] - start) / speeds[0])
    last = heard[-1, 1] + (end - heard[-1, 0]) / speeds[-1]
    places = np.unique(np.concatenate([[start], heard[:, 0], [end]]))
    plan = np.interp(places, [start, *heard[:, 0], end], [first, *heard[:, 1], last])
    return (places - start, plan - first), int(start), first
