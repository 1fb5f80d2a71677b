"""Mistakes to make on purpose, one a note at most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coach.ports.player.skill import partial_step

FAULT_SHARE = 0.2
EXTRA_SHARE = 0.05
LAG_SHARE = 0.4
KINDS = ("missed", "wrong", "split", "muffled", "early", "late")
CHANCES = (0.18, 0.22, 0.22, 0.18, 0.10, 0.10)


@dataclass(frozen=True, slots=True)
class Slip:
    """What goes wrong with a note (kind "" for nothing): semitones to the pitch played, the wrong
    start of a split (semitones, None for noise) and its length, decibels too soft, seconds off,
    tongue-to-valve lag; `extra_share`: a note too many, at this share of the interval."""

    kind: str = ""
    semitones: float = 0.0
    split_semitones: float | None = None
    split_s: float = 0.0
    quiet_db: float = 0.0
    off_s: float = 0.0
    lag_s: float | None = None
    extra_share: float = 0.0


def slips(
    rng: np.random.Generator,
    pitches: Sequence[int],
    slurred: Sequence[bool],
    interval_s: float,
    *,
    faults: bool,
    lags: bool,
) -> list[Slip]:
    """One `Slip` a note."""
    made = []
    for k, pitch in enumerate(pitches):
        moves = k > 0 and pitch != pitches[k - 1] and not slurred[k]
        slip = Slip()
        if faults and rng.random() < FAULT_SHARE:
            slip = _slip(rng, pitch, slurred[k], interval_s, first=k == 0)
        elif lags and moves and rng.random() < LAG_SHARE:
            most = min(0.04, 0.4 * interval_s)
            slip = Slip(lag_s=float(rng.choice((-1, 1)) * rng.uniform(min(0.015, most), most)))
        elif faults and interval_s >= 0.14 and rng.random() < EXTRA_SHARE:
            slip = Slip(extra_share=float(rng.uniform(0.4, 0.6)))
        made.append(slip)
    return made


def _slip(
    rng: np.random.Generator, pitch: int, slurred: bool, interval_s: float, *, first: bool
) -> Slip:
    kind = str(rng.choice(KINDS, p=CHANCES))
    side = int(rng.choice((-1, 1)))
    partial = partial_step(pitch, side)
    valve = float(rng.choice((partial, partial, -1, 1, -2, 2, -3, 3)))
    if kind == "wrong":
        return Slip(kind, semitones=float(round(valve)) or 1.0)
    if kind == "split":
        longest = max(0.026, min(0.07, 0.55 * interval_s))
        start = None if rng.random() < 0.25 and not slurred else partial
        return Slip(kind, split_semitones=start, split_s=float(rng.uniform(0.025, longest)))
    if kind == "muffled":
        return Slip(kind, quiet_db=float(rng.uniform(12, 18)))
    if kind in ("early", "late"):
        tolerance = min(0.025, 0.2 * interval_s)
        low, high = (
            max(tolerance + 0.005, min(0.028, 0.3 * interval_s)),
            min(0.06, 0.42 * interval_s),
        )
        if first or high <= low:
            return Slip()
        return Slip(kind, off_s=float((-1 if kind == "early" else 1) * rng.uniform(low, high)))
    return Slip(kind)
