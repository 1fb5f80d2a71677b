"""The level around notes: where each ended, and whether the tongue parted it from the one before.

The level is followed in steps of a millisecond, averaged over a little more than a period of the
lowest note.  A note has ended where its level falls for good to 15 dB under its own middle level,
less the 35 ms that this takes a simulated player who stops blowing.
Two notes are parted where the level between them falls by 10 dB: on recorded horn phrases legato
joins and slurs dip by 4 to 9 dB (quantiles 10 to 90 %), notes played apart by 13 (median).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from coach.hear.envelope import level_steps_db

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

SMOOTH_S = 0.024
ENDED_DB = 15.0
PARTED_DB = 10.0
AROUND_S = 0.06
RELEASE_S = 0.035
ATTACK_S, BACK_S = 0.15, 0.08
START_DB = 15.0


class Levels:
    """The level of `samples`, float32 (n,), at `rate`; frames count from the first sample."""

    def __init__(self, samples: Samples, rate: int) -> None:
        self.rate = rate
        self._step = max(1, rate // 1000)
        self._fine = level_steps_db(samples, self._step)
        length = max(1, round(SMOOTH_S * rate / self._step))
        powers = np.convolve(10 ** (self._fine / 10), np.ones(length) / length, mode="same")
        self._smooth: Floats = 10 * np.log10(powers + 1e-12)

    def loudest_db(self, frame: int, end_frame: int) -> float:
        part = self._part(frame, end_frame)
        return float(np.max(part)) if len(part) else -120.0

    def rises(self) -> list[int]:
        """Where the level rises by 10 dB or more within 60 ms: the middle of each such rise."""
        reach = round(AROUND_S * self.rate / self._step)
        gain = self._smooth[reach:] - self._smooth[:-reach]
        found: list[int] = []
        for at in np.nonzero(gain >= PARTED_DB)[0]:
            near = gain[max(0, at - reach) : at + reach + 1]
            if gain[at] >= np.max(near) and (not found or at - found[-1] > reach):
                found.append(int(at))
        return [(at + reach // 2) * self._step for at in found]

    def end_frame(self, frame: int, limit_frame: int) -> int:
        """Where the note that starts at `frame` falls silent, `limit_frame` at the latest."""
        # What comes next leaks into the averages of the last steps.
        leak = round(SMOOTH_S / 2 * self.rate / self._step)
        note = self._part(frame, limit_frame)[:-leak]
        if len(note) == 0:
            return limit_frame
        loud = np.nonzero(note >= np.max(note) - 2 * ENDED_DB)[0]
        middle = float(np.median(note[: loud[-1] + 1]))
        floor = max(middle, float(np.max(note)) - ENDED_DB / 2) - ENDED_DB
        last = int(np.nonzero(note >= floor)[0][-1]) + 1
        if last == len(note):
            return limit_frame
        return frame + max(1, last - round(RELEASE_S * self.rate / self._step)) * self._step

    def is_parted(self, frame: int) -> bool:
        """Whether the level dips between what sounds before `frame` and the note there."""
        at, reach = frame // self._step, round(AROUND_S * self.rate / self._step)
        low = self._smooth[max(0, at - reach) : at + reach // 2]
        before = self._smooth[max(0, at - 3 * reach) : max(1, at - reach // 2)]
        after = self._smooth[at : at + 3 * reach]
        if not (len(low) and len(before) and len(after)):
            return True
        return bool(np.min(low) <= min(np.median(before), np.max(after)) - PARTED_DB)

    def start_frame(self, frame: int, earliest_frame: int, end_frame: int) -> int:
        """Where the note struck near `frame` rises out of what was before: after the lowest point,
        the first step within 25 dB of the level it reaches in its first 0.15 s."""
        at = frame // self._step
        back = round(BACK_S * self.rate / self._step)
        low = max(at - back, earliest_frame // self._step, 0)
        high = min(at + round(ATTACK_S * self.rate / self._step), end_frame // self._step)
        window, smooth = self._fine[low:high], self._smooth[low:high]
        if len(window) == 0:
            return frame
        top = int(np.argmax(smooth[at - low :])) + at - low if at < high else len(window) - 1
        trough = int(np.argmin(smooth[: top + 1]))
        over = np.nonzero(window[trough:] >= smooth[top] - START_DB)[0]
        return (low + trough + (int(over[0]) if len(over) else 0)) * self._step

    def _part(self, frame: int, end_frame: int) -> Floats:
        return self._smooth[frame // self._step : end_frame // self._step]
