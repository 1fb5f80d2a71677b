"""How much sound after a note's attack the coach needs before it shows it and before it gives its
verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

import coach
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Verdict
from coach.core.timeline import Due
from tests.bed.take import Take

BLOCK_FRAMES = 441
SAME_PLACE_MS = 15.0


@dataclass(frozen=True, slots=True)
class Delays:
    """How long after its attack each note was told, ms of sound fed by blocks of 10 ms (the time of
    the computation not counted): `sealed_ms` its verdict, `glimpsed_ms` that it shows, where that
    was right; `wrong` glimpses were of a note that was then missed or elsewhere."""

    sealed_ms: tuple[float, ...]
    glimpsed_ms: tuple[float, ...]
    wrong: int


def delays_of(take: Take) -> Delays:
    """The delays of the notes that were heard."""
    dues = coach.Expected.from_dict(take.expected).dues(take.rate)
    ear, judge = _ear(dues, take.rate), Judge(dues, Rules(), take.rate)
    glimpses: list[tuple[int, Attack]] = []
    sealed: list[tuple[int, Verdict]] = []
    for start in range(0, len(take.samples), BLOCK_FRAMES):
        block: Any = take.samples[start : start + BLOCK_FRAMES]
        end = start + len(block)
        evidence = ear.feed(Chunk(start, len(block), block))
        sealed += [(end, verdict) for verdict in judge.step(evidence)]
        glimpses += [(end, evidence.glimpsed)] if evidence.glimpsed else []
    per_ms = take.rate / 1000
    places = {v.index: v.attack.frame for _, v in sealed if v.attack is not None}
    told = {v.index for _, v in sealed}
    right = [
        (end - places[a.due]) / per_ms
        for end, a in glimpses
        if a.due in places and abs(places[a.due] - a.frame) <= SAME_PLACE_MS * per_ms
    ]
    return Delays(
        tuple((end - v.attack.frame) / per_ms for end, v in sealed if v.attack is not None),
        tuple(right),
        sum(a.due in told for _, a in glimpses) - len(right),
    )


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
