"""Sound on the axis of a take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sound:
    """Mono `samples` (float32, full scale 1), the first of them at `frame`, `rate` a second."""

    frame: int
    rate: int
    samples: Sequence[float]

    @property
    def end_frame(self) -> int:
        return self.frame + len(self.samples)
