"""The features of a take as they grow: for the sound, and for every pitch the passage needs.

Fed with sound at the working rate in pieces of any size; rows come in blocks of `BLOCK` hops, so
they do not depend on how the sound was cut.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from coach.hear.follow.frames import (
    AHEAD,
    BACK,
    HOP,
    PITCH_CHANNELS,
    RATE,
    SOUND_CHANNELS,
    PitchFilters,
    Rows,
    Samples,
    sound_rows,
    windows,
)

BLOCK = 6
# So many blocks are taken at once: more would not be faster, and need more memory.
MOST_BLOCKS = 32
KEEP_S = 3.0


class Growing:
    """Rows by hop number, of which the oldest are forgotten."""

    def __init__(self, channels: int, first: int) -> None:
        self.first = first
        self.end = first
        self._rows = np.zeros((1024, channels), np.float32)

    def add(self, rows: Rows) -> None:
        needed = self.end - self.first + len(rows)
        if needed > len(self._rows):
            more = np.zeros((2 * needed, self._rows.shape[1]), np.float32)
            more[: self.end - self.first] = self._rows[: self.end - self.first]
            self._rows = more
        self._rows[self.end - self.first : needed] = rows
        self.end += len(rows)

    def forget(self, before: int) -> None:
        surplus = before - self.first
        if surplus > 2048:
            kept = self._rows[surplus : self.end - self.first].copy()
            self._rows[: len(kept)] = kept
            self.first = before

    def rows(self, start: int, end: int) -> Rows:
        """Rows start .. end - 1; those before the first row repeat it."""
        if start < self.first:
            pad = np.repeat(self._rows[:1], min(self.first, end) - start, axis=0)
            return np.concatenate([pad, self._rows[: max(0, end - self.first)]])
        return self._rows[start - self.first : end - self.first]


class Bank:
    """Feature rows of a take for the given `pitches` (fractional sounding MIDI numbers)."""

    def __init__(self, pitches: Iterable[float], *, keep_s: float = KEEP_S) -> None:
        self._keep_frames = int(keep_s * RATE)
        self.pitches = tuple(sorted(set(pitches)))
        self._filters = PitchFilters(self.pitches, BLOCK)
        self._sound: Samples = np.zeros(BACK, np.float32)
        self._sound_from = -BACK
        self.sound_rows = Growing(SOUND_CHANNELS, 0)
        self._pitch_rows = Growing(PITCH_CHANNELS * len(self.pitches), 0)

    @property
    def end_hop(self) -> int:
        """Rows are known for all hops before this one."""
        return self.sound_rows.end

    @property
    def end_frame(self) -> int:
        return self._sound_from + len(self._sound)

    def feed(self, sound: Samples) -> None:
        """More sound at the working rate."""
        self._sound = np.concatenate([self._sound, sound], dtype=np.float32)
        ready = (self.end_frame - AHEAD) // HOP + 1
        blocks = (ready - self.end_hop) // BLOCK
        if blocks > 0:
            self._grow(blocks)
            self._forget()

    def pitch_rows(self, pitch: float, start: int, end: int) -> Rows:
        """The channels of one of the pitches for hops start .. end - 1."""
        place = self.pitches.index(pitch) * PITCH_CHANNELS
        return self._pitch_rows.rows(start, end)[:, place : place + PITCH_CHANNELS]

    def part(self, start_frame: int, end_frame: int) -> Samples:
        """Sound between two frames; silence where it is not known (any more)."""
        low = max(start_frame, self._sound_from)
        high = min(end_frame, self.end_frame)
        got = self._sound[low - self._sound_from : max(low, high) - self._sound_from]
        before, after = low - start_frame, end_frame - max(low, high)
        return np.pad(got, (max(0, before), max(0, after))) if before or after else got

    def _grow(self, blocks: int) -> None:
        """Rows in blocks of one size, so that the sums are the same however they were fed."""
        for start in range(0, blocks, MOST_BLOCKS):
            self._grow_at_once(min(MOST_BLOCKS, blocks - start))

    def _grow_at_once(self, blocks: int) -> None:
        count = blocks * BLOCK
        low = self.end_hop * HOP - BACK - self._sound_from
        sound = self._sound[low : low + BACK + count * HOP + AHEAD]
        long = windows(sound, blocks, BLOCK)
        self._pitch_rows.add(self._filters.rows(sound, long).reshape(count, -1))
        self.sound_rows.add(sound_rows(long))

    def _forget(self) -> None:
        oldest = self.end_hop * HOP - self._keep_frames
        surplus = oldest - self._sound_from
        if surplus > RATE:
            self._sound = self._sound[surplus:]
            self._sound_from += surplus
        for growing in (self.sound_rows, self._pitch_rows):
            growing.forget(oldest // HOP)
