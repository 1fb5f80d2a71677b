"""A port around another that keeps the sound of the take at hand.

While the take runs only references to the blocks are put in a list: every port hands out blocks of
its own, and nobody writes into them.  One take is kept at a time; the next one takes its place.
"""

from __future__ import annotations

import numpy as np

from coach.core.sound import Sound
from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.ports.around import Around, Listening


class RecordedPort(Around):
    """The same port; what was read since `begin` is `taken`."""

    def __init__(self, base: Listening) -> None:
        super().__init__(base)
        self._plan: Plan | None = None
        self._runs = False
        self._chunks: list[Chunk] = []

    def begin(self, plan: Plan) -> None:
        self._plan, self._runs = plan, True
        self._chunks.clear()
        self._base.begin(plan)

    def end(self) -> None:
        self._runs = False
        self._base.end()

    def read(self) -> Chunk:
        chunk = self._base.read()
        if self._runs:
            self._chunks.append(chunk)
        return chunk

    def taken(self) -> Sound | None:
        """The sound between `begin` and `end`, from the plan's `start_frame` on (silence, where it
        was not heard from there); None if the input has no samples, or none came."""
        heard = [chunk for chunk in self._chunks if chunk.length_frames]
        if self._plan is None or not heard or heard[0].samples is None:
            return None
        samples = np.concatenate([np.asarray(chunk.samples, np.float32) for chunk in heard])
        start = self._plan.start_frame
        missing = max(0, heard[0].frame - start)
        placed = np.concatenate([np.zeros(missing, np.float32), samples])
        placed = placed[max(0, start - heard[0].frame) :]
        return Sound(start, self.rate, placed) if len(placed) else None  # type: ignore[arg-type]
