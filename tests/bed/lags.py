"""How well tongue-to-valve lags were heard, and how many were made up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.bed.score import Row, Scored, share, spread

CLEAR_LAG_MS = 15.0
LAG_STEPS_MS = (6.0, 8.0, 10.0, 12.0, 15.0, 20.0)


def lags(takes: Iterable[Scored]) -> tuple[float, float, float, int]:
    """Over the notes with a lag made on purpose: (median error in ms, 95th percentile, share of the
    lags that were reported, their number)."""
    rows = [r for t in takes for r in t.rows if r.truth.lag_ms]
    off = np.array(
        [
            abs(r.lag_ms - r.truth.lag_ms)
            for r in rows
            if r.lag_ms is not None and r.truth.lag_ms is not None
        ]
    )
    return (*spread(off), len(off) / max(1, len(rows)), len(rows))


@dataclass(frozen=True, slots=True)
class LagsTold:
    """Where a lag is told from `from_ms` on: the share of the true lags of 15 ms or more that are
    told, on the right side, and the share of the notes without one for which one is told."""

    from_ms: float
    found: float
    false: float
    lagging: int
    steady: int


def lags_told(takes: Iterable[Scored], steps_ms: Sequence[float] = LAG_STEPS_MS) -> list[LagsTold]:
    """How many lags are found, and how many are made up, at each threshold."""
    rows = [r for t in takes for r in t.rows if r.truth.attack_s is not None]
    lagging = [r for r in rows if abs(r.truth.lag_ms or 0.0) >= CLEAR_LAG_MS]
    steady = [r for r in rows if r.truth.lag_ms == 0.0]
    return [
        LagsTold(
            step,
            share(lagging, lambda r, step=step: _lag_told(r, step) * (r.truth.lag_ms or 0.0) > 0),
            share(steady, lambda r, step=step: _lag_told(r, step) != 0),
            len(lagging),
            len(steady),
        )
        for step in steps_ms
    ]


def _lag_told(row: Row, from_ms: float) -> float:
    """The reported lag, 0 where it is too small to be told or there is none."""
    return row.lag_ms if row.lag_ms is not None and abs(row.lag_ms) >= from_ms else 0.0
