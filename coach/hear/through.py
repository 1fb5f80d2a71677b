"""The ear while the ensemble sounds from loudspeakers: it hears the player through it.

What was played out is taken away (`leak`) before the ear that follows the score listens.  Where so
much of it is expected to remain at an expected note's own frequencies that the ear may take it for
the player, the place is told as masked, and the judge says "unsure" there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from coach.core.take import Chunk, Evidence, Gap
from coach.core.timeline import Click, Due
from coach.hear.follow.ear import FollowEar
from coach.hear.follow.frames import Samples
from coach.hear.leak import LeakCanceller, Played
from coach.hear.whole import whole

# Measured (tests/benchmarks/leak): up to an ensemble as loud as the player no note reaches it, with
# one 10 dB louder in a bad room half of them do.
MASKED_DB = -23.0
AROUND_S = 0.05
HARMONICS = 6


class ThroughEar:
    """Hears the `dues` in sound at `rate`, of which `played` (see `LeakCanceller`) comes out of the
    loudspeakers; `clicks` and `learn_until_frame` as for FollowEar, for clicks not in `played`,
    `heard` likewise, given the player alone."""

    def __init__(
        self,
        dues: Sequence[Due],
        rate: int,
        played: Played,
        *,
        clicks: Sequence[Click] = (),
        learn_until_frame: int = 0,
        heard: Callable[[int, Samples], None] | None = None,
    ) -> None:
        self.rate = rate
        first_frame = min((due.frame for due in dues), default=0)
        silent_until = first_frame - round(AROUND_S * 2 * rate)
        self.canceller = LeakCanceller(rate, played, silent_until)
        self._ear = FollowEar(
            dues, rate, clicks=clicks, learn_until_frame=learn_until_frame, heard=heard
        )
        self._waiting = sorted(dues, key=lambda due: due.frame)
        self._clipped = False
        self.residuals_db: list[float] = []

    @property
    def clipped(self) -> bool:
        """Whether the microphone was overdriven."""
        return self._clipped or self._ear.clipped

    @property
    def leak_db(self) -> float:
        """The ensemble in the microphone against the player."""
        return self.canceller.leak_db

    @property
    def loss_db(self) -> float:
        """What remained of the ensemble at the notes heard so far, against the player: the upper
        quartile (-120 where nothing was heard yet).  Above MASKED_DB headphones are advised."""
        return float(np.percentile(self.residuals_db, 75)) if self.residuals_db else -120.0

    def feed(self, chunk: Chunk) -> Evidence:
        """Evidence that this chunk settles, and what it masks."""
        if chunk.samples is None:
            return self._ear.feed(chunk)
        samples = np.ascontiguousarray(chunk.samples, dtype=np.float32)
        samples, lost = whole(chunk.frame, samples, self.rate)
        gaps: list[Gap] = [*lost]
        cleaned = []
        for start in range(0, len(samples), self.rate):
            piece = samples[start : start + self.rate]
            cleaned.append(self.canceller.feed(chunk.frame + start, piece))
            gaps += self._masked(chunk.frame + start + len(piece))
        clean = np.concatenate(cleaned) if cleaned else samples
        evidence = self._ear.feed(replace(chunk, samples=clean))  # type: ignore[arg-type]
        return replace(evidence, gaps=(*evidence.gaps, *gaps))

    def finish(self) -> Evidence:
        return self._ear.finish()

    def _masked(self, until_frame: int) -> list[Gap]:
        """The places of notes, by now well past, at which the ear is not to be trusted."""
        around = round(AROUND_S * self.rate)
        found = []
        while self._waiting and self._waiting[0].frame + around < until_frame:
            due = self._waiting.pop(0)
            hz = [k * 440 * 2 ** ((due.pitch - 69) / 12) for k in range(1, HARMONICS + 1)]
            left_db = self.canceller.residual_db(due.frame - around, 2 * around, hz=hz)
            self.residuals_db.append(left_db)
            if left_db > MASKED_DB:
                found.append(Gap(due.frame - around, 2 * around, "masked"))
        return found
