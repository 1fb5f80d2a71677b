"""Judging a recording: samples and expected notes in, a report out.

Joins the ear and the judge as the live session does, fed from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from coach.core.anchor import Fit, find_start, moved
from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence, Gap
from coach.errors import CoachError
from coach.hear.blind import BlindEar
from coach.hear.clicks import remove_clicks
from coach.hear.follow.ear import FollowEar
from coach.hear.onethread import one_thread
from coach.hear.slownotes import hear_slow_notes

Samples = NDArray[np.float32]

BLOCK_FRAMES = 4096
CLIP_LEVEL, CLIPPED_SAMPLES = 0.995, 3
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
    with one_thread():
        clean, masked = _without_clicks(samples, sample_rate, expected)
        fits = _fits(clean, sample_rate, expected)
        reports = [_judged(clean, sample_rate, expected, fit, rules, masked) for fit in fits]
    report = max(reports, key=_clearness)
    loud = int(np.sum(np.abs(samples) >= CLIP_LEVEL)) >= CLIPPED_SAMPLES
    return replace(report, remarks=("The recording is overdriven.",) if loud else ())


def _without_clicks(
    samples: Samples, rate: int, expected: Expected
) -> tuple[Samples, Sequence[Gap]]:
    """The samples less the clicks that are said to be in them, and what stays covered."""
    if not expected.clicks_s:
        return samples, ()
    frames = [round(second * rate) for second in expected.clicks_s]
    first_note = round(expected.notes[0].onset_s * rate)
    count_in = first_note - round(0.5 * rate * expected.notes[0].duration_s)
    learnt = count_in if any(f < count_in for f in frames) else None
    return remove_clicks(samples, frames, rate, learn_until_frame=learnt)


def _fits(samples: Samples, rate: int, expected: Expected) -> list[Fit]:
    """Where the playing may start, and at what tempo: on the grid, or as two ears hear it."""
    if expected.anchor == "grid":
        return [Fit(0, 1.0)]
    dues = expected.dues(rate)
    lowest = min(due.pitch for due in dues)
    blind = [a for e in _heard(BlindEar(rate, lowest_pitch=lowest), samples) for a in e.attacks]
    slow = [
        Attack(note.frame, note.pitch)
        for note in hear_slow_notes(samples, rate, lowest_pitch=lowest)
    ]
    return [find_start(dues, attacks, rate) for attacks in (blind, slow)]


def _judged(
    samples: Samples,
    rate: int,
    expected: Expected,
    fit: Fit,
    rules: Rules,
    masked: Sequence[Gap],
) -> Report:
    dues = moved(expected.dues(rate), fit) if expected.anchor == "free" else expected.dues(rate)
    judge = Judge(dues, rules, rate)
    judge.step(Evidence(gaps=tuple(masked), resolved=0))
    for evidence in _heard(FollowEar(dues, rate), samples):
        judge.step(evidence)
    judge.finish(follows=True)
    report = judge.report()
    return replace(report, tempo_ratio=report.tempo_ratio * fit.tempo_ratio)


def _clearness(report: Report) -> float:
    """How well a fit explains the recording."""
    kinds = report.counts
    return report.accuracy - kinds.get("missed", 0) / max(1, len(report.verdicts))


def _heard(ear: BlindEar | FollowEar, samples: Samples) -> list[Evidence]:
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
