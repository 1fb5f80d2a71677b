"""A take and its click as one track, slowed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from coach.core.playback import Slowed
from coach.ports.click import ClickTrack, Placed, Samples

FADE_S = 0.005
# The take's loudest sample is brought to this, but the noise of an empty room is not blown up.
PEAK_DB, MOST_GAIN_DB = -6.0, 30.0


class TakeTrack:
    """The sound of a take from `slowed.from_frame` on, beginning at `first_frame`, with its clicks.

    `wave` is all of the take, slowed, from the plan's `start_frame`.  It fades in over 5 ms; the
    clicks do not.
    """

    def __init__(
        self,
        wave: Samples,
        slowed: Slowed,
        *,
        clicks: bool,
        gain: float = 1.0,
        first_frame: int = 0,
    ) -> None:
        self._first = first_frame
        part = np.float32(gain) * wave[slowed.whole(slowed.from_frame) :]
        fade = np.linspace(0, 1, round(FADE_S * slowed.rate), dtype=np.float32)[: len(part)]
        if slowed.from_frame > slowed.plan.start_frame:
            part[: len(fade)] *= fade
        self._sound = Placed([(0, part)])
        self.length_frames = len(part)
        plan = replace(slowed.plan, rate=slowed.rate, clicks=slowed.clicks())
        self._clicks = ClickTrack(plan) if clicks else Placed(())

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32 of shape (length_frames,), never above full scale."""
        at = frame - self._first
        mixed = self._sound.render(at, length_frames) + self._clicks.render(at, length_frames)
        loud: Samples = np.clip(mixed, -1.0, 1.0)
        return loud


def gain_for(*waves: Samples) -> float:
    """What brings the loudest of the takes to a good level, the same for all."""
    peak = max((float(np.max(np.abs(wave))) for wave in waves if len(wave)), default=0.0)
    wanted = 10 ** (PEAK_DB / 20) / max(peak, 1e-9)
    return float(min(wanted, 10 ** (MOST_GAIN_DB / 20)))
