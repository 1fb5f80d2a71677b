"""Judging a recording: samples and expected notes in, a report out.

Joins the ear and the judge as the live session does, fed from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from coach.core.anchor import Fit, Search, apart_frames, fit_of, moved, worth
from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence, Gap
from coach.core.timeline import Due
from coach.errors import CoachError
from coach.hear.blind import BlindEar
from coach.hear.clicks import remove_clicks
from coach.hear.follow.ear import FollowEar
from coach.hear.levels import overdriven
from coach.hear.onethread import one_thread
from coach.hear.slownotes import hear_slow_notes
from coach.hear.whole import is_whole, whole

Samples = NDArray[np.float32]

BLOCK_FRAMES = 65536
SLOWEST_RATE, FASTEST_RATE = 16_000, 192_000
CANDIDATES, REFITS = 4, 2
SAME_S, SETTLED_S = 0.04, 0.02
LIKELY_SHARE = 0.2
BLIND_WEIGHT, CLEAR_WORTH, MUCH_BETTER = 0.5, 1.1, 1.2

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
        dues = expected.dues(sample_rate)
        if expected.anchor == "free":
            followed = _free(clean, sample_rate, dues)
            dues = moved(dues, followed.fit)
            report = _judged(dues, followed.evidence, sample_rate, rules, masked)
            report = replace(report, tempo_ratio=followed.fit.tempo_ratio)
        else:
            evidence = _heard(FollowEar(dues, sample_rate), clean)
            report = _judged(dues, evidence, sample_rate, rules, masked)
    remarks = ("The recording is too loud: it overloads.",) if overdriven(samples) else ()
    return replace(report, remarks=remarks)


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


@dataclass(frozen=True, slots=True)
class _Followed:
    """The recording followed where the notes were thought to be, the line on which they were found,
    and how well that line bears out (0 to 1.5)."""

    told: Fit
    fit: Fit
    evidence: Sequence[Evidence]
    worth: float


def _free(samples: Samples, rate: int, dues: Sequence[Due]) -> _Followed:
    """Where the playing starts and at what tempo: what the ears think likely is followed, and
    followed again where the notes found lie on another line."""
    searches = _searches(samples, rate, dues)
    tried: list[_Followed] = []
    for fit in _fits(searches, rate):
        tried.append(_followed(samples, rate, dues, fit, searches[0]))
        if tried[-1].worth >= CLEAR_WORTH:
            break
    best = max(tried, key=lambda followed: followed.worth)
    for _ in range(REFITS):
        if apart_frames(dues, best.fit, best.told) <= SETTLED_S * rate:
            break
        again = _followed(samples, rate, dues, best.fit, searches[0])
        if again.worth <= best.worth:
            break
        best = again
    return best


def _searches(samples: Samples, rate: int, dues: Sequence[Due]) -> list[Search]:
    """The attacks of two ears that know no score, together and alone."""
    lowest = min(due.pitch for due in dues)
    blind = [a for e in _heard(BlindEar(rate, lowest_pitch=lowest), samples) for a in e.attacks]
    slow = [
        Attack(note.frame, note.pitch)
        for note in hear_slow_notes(samples, rate, lowest_pitch=lowest)
    ]
    return [Search(dues, attacks, rate) for attacks in ([*blind, *slow], slow, blind)]


def _fits(searches: Sequence[Search], rate: int) -> list[Fit]:
    """The likeliest starts and tempos that differ, the best first; at least one."""
    together, *_ = searches
    kept: list[Fit] = []
    found = {fit: together.support(fit) for search in searches for fit in search.starts()}
    for fit in sorted(found, key=lambda fit: -found[fit]):
        likely = found[fit] >= max(found.values()) - LIKELY_SHARE
        far = all(apart_frames(together.dues, fit, k) > SAME_S * rate for k in kept)
        if likely and far and len(kept) < CANDIDATES:
            kept.append(fit)
    return kept or [Fit(0, 1.0)]


def _followed(
    samples: Samples, rate: int, dues: Sequence[Due], told: Fit, search: Search
) -> _Followed:
    evidence = _heard(FollowEar(moved(dues, told), rate), samples)
    claimed = [attack for part in evidence for attack in part.attacks]
    line = fit_of(dues, claimed, rate) or told
    worths = [
        worth(dues, claimed, fit, rate) + BLIND_WEIGHT * search.support(fit) for fit in (told, line)
    ]
    # One note missed among equal ones can lead the follower astray to the end: then what it was
    # told is much the better line.
    if worths[0] > MUCH_BETTER * worths[1]:
        return _Followed(told, told, evidence, worths[0])
    return _Followed(told, line, evidence, worths[1])


def _judged(
    dues: Sequence[Due],
    evidence: Sequence[Evidence],
    rate: int,
    rules: Rules,
    masked: Sequence[Gap],
) -> Report:
    judge = Judge(dues, rules, rate)
    judge.step(Evidence(gaps=tuple(masked), resolved=0))
    for part in evidence:
        judge.step(part)
    judge.finish(follows=True)
    return judge.report()


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
        raise CoachError("the recording is empty", "assess", "record it again")
    if not SLOWEST_RATE <= rate <= FASTEST_RATE:
        raise CoachError(
            f"a rate of {rate} frames a second cannot be judged",
            "assess",
            f"use {SLOWEST_RATE} to {FASTEST_RATE}",
        )
    if not is_whole(samples):
        what = "the recording holds values that are not numbers, or far too large to be sound"
        raise CoachError(what, "assess", "export it again")
    return whole(0, samples, rate)[0]
