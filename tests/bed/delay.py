"""How much sound after a note's attack the coach needs before it gives its verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

import coach
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.core.timeline import Due
from tests.bed.take import Take

BLOCK_FRAMES = 441


def delays_ms(take: Take) -> list[float]:
    """For each note that was heard, how long after its attack its verdict was sealed, in sound fed
    by blocks of 10 ms (not counting the time of the computation)."""
    dues = coach.Expected.from_dict(take.expected).dues(take.rate)
    ear, judge = _ear(dues, take.rate), Judge(dues, Rules(), take.rate)
    found = []
    for start in range(0, len(take.samples), BLOCK_FRAMES):
        block: Any = take.samples[start : start + BLOCK_FRAMES]
        end = start + len(block)
        for verdict in judge.step(ear.feed(Chunk(start, len(block), block))):
            if verdict.attack is not None:
                found.append(1000 * (end - verdict.attack.frame) / take.rate)
    return found


def _ear(dues: Sequence[Due], rate: int) -> Any:
    """The ear that follows the score; the blind one where its weights are not there."""
    try:
        from coach.hear.follow.ear import FollowEar

        ear: Any = FollowEar(dues, rate)
        ear.feed(Chunk(0, 0, np.zeros(0, np.float32)))  # type: ignore[arg-type]
    except (ImportError, FileNotFoundError):
        from coach.hear.blind import BlindEar

        ear = BlindEar(rate, lowest_pitch=min(d.pitch for d in dues))
    return ear
