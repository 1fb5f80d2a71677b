"""A recording, or a list of notes, in place of an instrument: the same port without waiting."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from coach.core.take import Chunk, NoteEvent
from coach.core.timeline import Plan


class _Replay:
    """Counts off `length_frames` in blocks.

    The earliest click frame is the next unread one: a recording that starts with the count-in lies
    on the plan of the first take from its first sample.
    """

    def __init__(self, length_frames: int, rate: int, block_frames: int) -> None:
        if block_frames < 1:
            raise ValueError("block_frames must be 1 or more")
        self.rate = rate
        self._length = length_frames
        self._block = block_frames
        self._next = 0

    @property
    def ended(self) -> bool:
        return self._next >= self._length

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def earliest_frame(self) -> int:
        return self._next

    def position(self) -> int:
        return self._next

    def begin(self, plan: Plan) -> None:
        """Nothing sounds: the recording has its clicks, or needs none."""

    def end(self) -> None:
        pass

    def _advance(self) -> tuple[int, int]:
        start = self._next
        self._next = min(self._length, start + self._block)
        return start, self._next


class ReplayPort(_Replay):
    """Plays back `samples`, float32 mono of shape (n,), `block_frames` at a time."""

    def __init__(self, samples: NDArray[np.float32], rate: int, block_frames: int = 512) -> None:
        if samples.ndim != 1:
            raise ValueError(f"samples must be mono, not of shape {samples.shape}")
        super().__init__(len(samples), rate, block_frames)
        self._samples = np.ascontiguousarray(samples, np.float32)

    def __enter__(self) -> ReplayPort:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def read(self) -> Chunk:
        start, end = self._advance()
        return Chunk(start, end - start, self._samples[start:end])  # type: ignore[arg-type]


class ReplayNotes(_Replay):
    """Plays back MIDI notes over `length_frames` (default: to one second after the last)."""

    def __init__(
        self,
        notes: Iterable[NoteEvent],
        rate: int,
        length_frames: int | None = None,
        block_frames: int = 512,
    ) -> None:
        self._notes = sorted(notes, key=lambda note: note.frame)
        last = self._notes[-1].frame if self._notes else 0
        super().__init__(
            last + rate if length_frames is None else length_frames, rate, block_frames
        )

    def __enter__(self) -> ReplayNotes:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def read(self) -> Chunk:
        start, end = self._advance()
        notes = tuple(n for n in self._notes if start <= n.frame < end)
        return Chunk(start, end - start, None, notes)
