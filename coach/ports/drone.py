"""A drone: a steady tone with a few harmonics, the same however it is cut into windows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

# Falling by about 9 dB an octave: chosen by ear to be plain and soft, no source.
PARTIALS = tuple((n, n**-1.5) for n in range(1, 9))
FADE_S = 0.3
LOUDEST_DB = -12.0


class DroneTrack:
    """Sounds `hz` from `start_frame` on, fading in; `level_db` is its RMS against full scale, never
    above `LOUDEST_DB`, whatever is asked for: it goes into somebody's ears."""

    def __init__(self, hz: float, rate: int, level_db: float, start_frame: int) -> None:
        self._turn = 2 * np.pi * hz / rate
        self._partials = [(n, weight) for n, weight in PARTIALS if n * hz < 0.45 * rate]
        power = sum(weight**2 for _, weight in self._partials) / 2
        self._gain = 10 ** (min(level_db, LOUDEST_DB) / 20) / np.sqrt(power)
        self._start, self._fade = start_frame, FADE_S * rate

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32 of shape (length_frames,)."""
        frames = np.arange(frame, frame + length_frames, dtype=np.float64)
        sound = sum(weight * np.sin(n * self._turn * frames) for n, weight in self._partials)
        share = np.clip((frames - self._start) / self._fade, 0.0, 1.0)
        made: Samples = (self._gain * np.sin(np.pi / 2 * share) ** 2 * sound).astype(np.float32)
        return made
