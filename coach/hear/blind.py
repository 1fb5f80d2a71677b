"""A tracker that knows no score: aubio's onsets and pitches, joined into attacks.

The package's defaults are unusable on brass in a room, so adaptive whitening and compression are
off.  aubio reads arrays as if they were contiguous: every block is copied first.  It reports an
onset at the very first frame of anything: dropped.  A slur shows no onset: there the attack is the
instant at which the pitch takes a new place for good.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np

from coach.core.pitch import hz_of_midi
from coach.core.take import Attack, Chunk, Evidence
from coach.errors import not_installed
from coach.hear.envelope import Samples, level_steps_db, rise_steps, start_step, swell_of
from coach.hear.levels import overdriven
from coach.hear.whole import whole

HOP_S = 0.0053
ONSET_WINDOW_HOPS = 4
LOWEST_PITCH = 26.0
SILENCE_DB = -55.0
MIN_INTERVAL_S = 0.045
DECIDE_S = 0.085
PERIODS_TO_DECIDE = 9
SWELL_DB = 4.0
JOIN_DB = -2.0
SMOOTH_STEPS = 25
LOOK_BACK_S = 0.060
LOOK_AHEAD_S = 0.050
KEEP_S = 1.0
PERIODS_FOR_CENTS = 8
STEADY_SEMITONES = 0.6
STEADY_HOPS = 4
TRACK_HOPS = 40


@dataclass(frozen=True, slots=True)
class _Pending:
    """A note that has started near `frame` and is being listened to."""

    frame: int
    slurred: bool = False


class BlindEar:
    """Attacks from sound at `rate` frames a second, fed in chunks of any size."""

    def __init__(self, rate: int, *, lowest_pitch: int = 34) -> None:
        aubio = library()
        self.rate = rate
        self.clipped = False
        self._hop = 2 ** round(math.log2(rate * HOP_S))
        self._step = max(1, rate // 1000)
        window = self._hop * (16 if lowest_pitch < 43 else 8)
        self._onset = aubio.onset("specflux", self._hop * ONSET_WINDOW_HOPS, self._hop, rate)
        self._onset.set_awhitening(False)
        self._onset.set_compression(0.0)
        self._onset.set_silence(SILENCE_DB)
        self._onset.set_minioi_s(MIN_INTERVAL_S)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self._pitch = aubio.pitch("yinfft", window, self._hop, rate)
        self._pitch.set_unit("midi")
        self._pitch.set_silence(SILENCE_DB)
        self._window = window
        self._buffer: Samples = np.zeros(0, np.float32)
        self._buffer_frame: int | None = None
        self._first_frame = self._done_frame = 0
        self._pending: _Pending | None = None
        self._settled: float | None = None
        self._track: list[tuple[int, float]] = []

    def feed(self, chunk: Chunk) -> Evidence:
        """Attacks that became certain with this chunk."""
        if chunk.samples is None:
            return Evidence(up_to_frame=chunk.end_frame)
        samples = np.ascontiguousarray(chunk.samples, dtype=np.float32)
        samples, lost = whole(chunk.frame, samples, self.rate)
        if self._buffer_frame is None:
            self._buffer_frame = self._first_frame = self._done_frame = chunk.frame
        self.clipped = self.clipped or overdriven(samples)
        self._buffer = np.concatenate([self._buffer, samples])
        attacks = []
        while self._done_frame + self._hop <= self._end_frame:
            attacks += self._hop_done()
        self._forget()
        return Evidence(tuple(attacks), (*chunk.gaps, *lost), self._up_to_frame())

    def finish(self) -> Evidence:
        """The last attacks, now that nothing more will come."""
        last = self._close()
        return Evidence((last,) if last else (), up_to_frame=self._done_frame)

    @property
    def _end_frame(self) -> int:
        return (self._buffer_frame or 0) + len(self._buffer)

    def _up_to_frame(self) -> int:
        reach = self._pending.frame if self._pending else self._done_frame
        return int(reach - LOOK_BACK_S * self.rate - self._window)

    def _part(self, from_frame: int, to_frame: int) -> Samples:
        origin = self._buffer_frame or 0
        return self._buffer[max(0, from_frame - origin) : max(0, to_frame - origin)]

    def _forget(self) -> None:
        surplus = len(self._buffer) - int(KEEP_S * self.rate)
        if surplus > 0 and self._buffer_frame is not None:
            self._buffer = self._buffer[surplus:]
            self._buffer_frame += surplus

    def _hop_done(self) -> list[Attack]:
        """Take one hop: its onset and pitch, and the notes they decide."""
        block = np.ascontiguousarray(self._part(self._done_frame, self._done_frame + self._hop))
        first = self._done_frame == self._first_frame
        self._done_frame += self._hop
        onset = bool(self._onset(block)[0]) and not first
        self._note_pitch(float(self._pitch(block)[0]))
        closed = []
        if onset:
            closed.append(self._close())
            self._open(self._done_frame - 2 * self._hop)
        elif self._has_moved():
            closed.append(self._close())
            self._open(self._track[-STEADY_HOPS][0], slurred=True)
        elif self._pending and self._done_frame >= self._pending.frame + self._patience_frames():
            closed.append(self._close())
        return [attack for attack in closed if attack]

    def _note_pitch(self, pitch: float) -> None:
        """Remember the pitch heard, stamped at the middle of its window."""
        centre = self._done_frame - self._window // 2
        level = level_steps_db(
            self._part(self._done_frame - self._hop, self._done_frame), self._hop
        )
        heard = pitch if pitch > LOWEST_PITCH and len(level) and level[-1] > SILENCE_DB else None
        if heard is None:
            self._track.clear()
        else:
            self._track.append((centre, heard))
            del self._track[:-TRACK_HOPS]

    def _has_moved(self) -> bool:
        """Whether the pitch has left the last note for another one, for good."""
        if self._settled is None or self._pending or len(self._track) < STEADY_HOPS:
            return False
        last = [pitch for _, pitch in self._track[-STEADY_HOPS:]]
        steady = max(last) - min(last) < STEADY_SEMITONES
        return steady and abs(float(np.median(last)) - self._settled) > STEADY_SEMITONES

    def _patience_frames(self) -> float:
        """How long to listen to a note before naming it: longer for low ones."""
        period_s = 1 / hz_of_midi(self._track[-1][1]) if self._track else 0.0
        return max(DECIDE_S, PERIODS_TO_DECIDE * period_s) * self.rate

    def _open(self, frame: int, *, slurred: bool = False) -> None:
        self._pending = _Pending(frame, slurred)

    def _close(self) -> Attack | None:
        """Make an attack of the note that is being listened to."""
        pending, self._pending = self._pending, None
        if pending is None:
            return None
        start, level_db, rise, swell_db = self._measure(pending)
        pitches = [p for frame, p in self._track if frame >= start + self._window // 4]
        settled = float(np.median(pitches[-STEADY_HOPS:])) if pitches else None
        before, self._settled = self._settled, settled or self._settled
        moved = pending.slurred or _differ(settled, before)
        if level_db < SILENCE_DB or swell_db < (JOIN_DB if moved else SWELL_DB):
            return None
        return Attack(
            start,
            settled,
            level_db,
            rise,
            self._settling(settled, pitches),
            fine=self._is_fine(settled, pitches),
            confidence=0.9 if pitches else 0.5,
        )

    def _measure(self, pending: _Pending) -> tuple[int, float, int, float]:
        """Start frame, level in dB, rise in frames of a pending note, and its rise in dB."""
        back, ahead = int(LOOK_BACK_S * self.rate), int(LOOK_AHEAD_S * self.rate)
        origin = max(pending.frame - back, self._buffer_frame or 0)
        end = min(self._done_frame, pending.frame + int(DECIDE_S * self.rate))
        levels = level_steps_db(self._part(origin, end), self._step)
        if len(levels) == 0:
            return pending.frame, SILENCE_DB, 0, 0.0
        guess = (pending.frame - origin) // self._step
        if pending.slurred:
            start = guess
        else:
            start = start_step(levels, guess, back // self._step, ahead // self._step)
        rise = rise_steps(levels, start, len(levels)) * self._step
        peak_db = float(levels[start:].max(initial=SILENCE_DB))
        swell_db = swell_of(levels, start, SMOOTH_STEPS)
        return origin + start * self._step, peak_db, rise, swell_db

    def _settling(self, settled: float | None, pitches: list[float]) -> int:
        """Frames spent on another steady pitch before the one it settled on."""
        if settled is None:
            return 0
        wrong = [p for p in pitches if abs(p - settled) > STEADY_SEMITONES]
        steady = len(wrong) >= STEADY_HOPS and max(wrong) - min(wrong) < STEADY_SEMITONES
        return len(wrong) * self._hop + self._window // 4 if steady else 0

    def _is_fine(self, settled: float | None, pitches: list[float]) -> bool:
        if len(pitches) < STEADY_HOPS or settled is None:
            return False
        steady = max(pitches[-STEADY_HOPS:]) - min(pitches[-STEADY_HOPS:]) < 0.2
        heard_s = len(pitches) * self._hop / self.rate
        return steady and heard_s * hz_of_midi(settled) >= PERIODS_FOR_CENTS


def library() -> Any:
    """The library; CoachError where it is not installed."""
    try:
        import aubio
    except ImportError:
        raise not_installed("hearing without a score needs", "aubio-ledfx") from None
    return aubio


def _differ(pitch: float | None, other: float | None) -> bool:
    return pitch is not None and other is not None and abs(pitch - other) > STEADY_SEMITONES
