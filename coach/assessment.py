"""Judging a recording: samples and expected notes in, a report out.

Joins the ear and the judge as the live session does, fed from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from coach.core.anchor import Fit, find_start, moved
from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence
from coach.core.timeline import Due
from coach.errors import CoachError
from coach.hear.blind import BlindEar
from coach.hear.follow.ear import FollowEar
from coach.hear.onethread import one_thread

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLOCK_FRAMES = 4096
SLOWEST_RATE, FASTEST_RATE = 16_000, 192_000

__all__ = ["Expected", "assess"]


def assess(
    samples: NDArray[np.float32],
    sample_rate: int,
    expected: Expected,
    *,
    rules: Rules | None = None,
) -> Report:
    """Judge one recording.

    `samples`: float32 of shape (n,), full scale 1.0; `sample_rate` in frames a second (16,000 to
    192,000).  Raises CoachError where the sound cannot be judged at all.
    """
    samples = _checked(samples, sample_rate)
    rules = rules or Rules()
    dues = expected.dues(sample_rate)
    fit = Fit(0, 1.0)
    if expected.anchor == "free":
        fit = find_start(dues, hear_blind(samples, sample_rate, dues), sample_rate)
        dues = moved(dues, fit)
    judge = Judge(dues, rules, sample_rate)
    ear = FollowEar(dues, sample_rate)
    with one_thread():
        for evidence in _heard(ear, samples):
            judge.step(evidence)
    judge.finish(follows=True)
    report = judge.report()
    remarks = ("the recording is overdriven",) if ear.clipped else ()
    return replace(report, tempo_ratio=report.tempo_ratio * fit.tempo_ratio, remarks=remarks)


def hear_blind(samples: NDArray[np.float32], rate: int, dues: Sequence[Due]) -> tuple[Attack, ...]:
    """Every attack in the recording, heard without the score."""
    ear = BlindEar(rate, lowest_pitch=min(d.pitch for d in dues))
    return tuple(attack for e in _heard(ear, samples) for attack in e.attacks)


def _heard(ear: BlindEar | FollowEar, samples: NDArray[np.float32]) -> list[Evidence]:
    evidence = []
    for start in range(0, len(samples), BLOCK_FRAMES):
        block = samples[start : start + BLOCK_FRAMES]
        evidence.append(ear.feed(Chunk(start, len(block), block)))  # type: ignore[arg-type]
    evidence.append(ear.finish())
    return evidence


def _checked(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    samples = np.ascontiguousarray(samples, dtype=np.float32)
    if samples.ndim != 1:
        raise CoachError(
            f"the samples have {samples.ndim} dimensions", "assess", "mix them down to one channel"
        )
    if len(samples) == 0:
        raise CoachError("the recording is empty", "assess")
    if not SLOWEST_RATE <= rate <= FASTEST_RATE:
        raise CoachError(
            f"a rate of {rate} frames a second cannot be judged",
            "assess",
            f"use {SLOWEST_RATE} to {FASTEST_RATE}",
        )
    if not np.all(np.isfinite(samples)):
        raise CoachError("the recording holds values that are not numbers", "assess")
    return samples
