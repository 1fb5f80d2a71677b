"""A take whose truth is known, and the timing verdicts that follow from it.

Times are seconds from the first sample.  The attack is the physical start, as
`coach assess` tells it; for a slur the instant at which the new pitch takes over.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 44_100
# The default tolerances, restated here so that a slip in the rules shows.
TOLERANCE_MS, TOLERANCE_SHARE, OFFSET_LIMIT_MS = 25.0, 0.20, 60.0
# Truth so near the tolerance allows both verdicts: attack times themselves are good to 2 to 5 ms.
EDGE_MS = 4.0
SPLIT_MS = 20.0
NAMES = {"horn": "double-horn"}

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Truth:
    """What was really played for one expected note.

    `attack_s` is None if the note was left out; `midi` is the pitch on which it settled (without
    the player's tuning).  `kind` is one of the verdicts, `also` further verdicts that would
    be as fair.  `lag_ms`: tongue to valve, None where there is none to measure.  `mark_kind` is
    "made" for takes made here; for recordings "attack", "join", "slur", "staccato" or "unknown"
    (no usable truth), with the dip of the level before the note and the doubt about its time.
    """

    index: int
    attack_s: float | None
    midi: int
    kind: str = "clean"
    slurred: bool = False
    lag_ms: float | None = None
    split_ms: float = 0.0
    mark_kind: str = "made"
    dip_db: float | None = None
    unc_s: float = 0.0
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Take:
    """Sound and truth: `samples` float32 of shape (n,), `expected` what --expect reads, as a
    dict, `extras` attack times of notes that nobody asked for."""

    samples: Samples
    rate: int
    expected: dict[str, Any]
    truth: tuple[Truth, ...]
    extras: tuple[float, ...] = ()
    name: str = ""

    @property
    def onsets_s(self) -> list[float]:
        return [note["onset_s"] for note in self.expected["notes"]]


def expected_of(
    instrument: str,
    onsets_s: Sequence[float],
    durations_s: Sequence[float],
    pitches: Sequence[int],
    slurred: Sequence[bool],
    clicks_s: Sequence[float] = (),
) -> dict[str, Any]:
    """EXPECT.json on the grid."""
    notes = [
        {"onset_s": round(float(t), 6), "duration_s": round(float(d), 6), "midi": int(m)}
        | {"slurred": bool(s)}
        for t, d, m, s in zip(onsets_s, durations_s, pitches, slurred, strict=True)
    ]
    made = {"instrument": NAMES.get(instrument, instrument), "anchor": "grid", "notes": notes}
    return made | ({"clicks_s": [round(float(c), 6) for c in clicks_s]} if len(clicks_s) else {})


def intervals(onsets_s: Sequence[float]) -> list[float]:
    """For each note the interval to its nearer neighbour, seconds."""
    gaps = [b - a for a, b in itertools.pairwise(onsets_s)] or [1.0]
    return [gaps[0], *(min(a, b) for a, b in itertools.pairwise(gaps)), gaps[-1]][: len(onsets_s)]


def timed(truth: Sequence[Truth], expected: Mapping[str, Any]) -> tuple[Truth, ...]:
    """The truth with `early` and `late` put in where a note is right but outside the tolerance."""
    onsets = [note["onset_s"] for note in expected["notes"]]
    heard = [
        t.attack_s - onsets[t.index]
        for t in truth
        if t.attack_s is not None and t.kind not in ("missed", "wrong")
    ]
    limit = OFFSET_LIMIT_MS / 1000
    offset = max(-limit, min(limit, median(heard))) if heard else 0.0
    spans = intervals(onsets)
    return tuple(_timed(t, onsets[t.index] + offset, spans[t.index]) for t in truth)


def _timed(truth: Truth, due_s: float, span_s: float) -> Truth:
    if truth.attack_s is None or truth.kind not in ("clean", "early", "late"):
        return truth
    off_ms = 1000 * (truth.attack_s - due_s)
    tolerance_ms = min(TOLERANCE_MS, 1000 * TOLERANCE_SHARE * span_s)
    side = "early" if off_ms < 0 else "late"
    kind = side if abs(off_ms) > tolerance_ms else "clean"
    also = truth.also
    if abs(abs(off_ms) - tolerance_ms) <= EDGE_MS:
        also = (*also, "clean" if kind != "clean" else side)
    return replace(truth, kind=kind, also=also)
