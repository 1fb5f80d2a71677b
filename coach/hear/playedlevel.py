"""How loud the player has been, away from the clicks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEVEL_S = 0.02


class PlayedLevel:
    """The loudest 20 ms heard away from clicks, from `from_frame` on."""

    def __init__(self, rate: int, click_frames: Sequence[int], from_frame: int) -> None:
        self.loudest_db = -120.0
        self._step = round(LEVEL_S * rate)
        self._clicks = click_frames
        self._done_frame = from_frame

    def follow(self, clean: Callable[[int, int], Floats], to_frame: int) -> None:
        """Measure whole steps up to `to_frame`."""
        while self._done_frame + self._step <= to_frame:
            start, self._done_frame = self._done_frame, self._done_frame + self._step
            if not self._near_click(start):
                power = float(np.mean(clean(start, self._done_frame) ** 2))
                self.loudest_db = max(self.loudest_db, 10 * float(np.log10(power + 1e-12)))

    def _near_click(self, frame: int) -> bool:
        """A click began in this step or in the four before."""
        at = bisect_left(self._clicks, frame - 4 * self._step)
        return at < len(self._clicks) and self._clicks[at] < frame + self._step
