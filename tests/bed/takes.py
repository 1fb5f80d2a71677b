"""The mixture of takes that the follower's nets are trained on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.bed.augment import augmented
from tests.bed.real import real_takes
from tests.bed.render import ARTICULATIONS, make_take
from tests.bed.sources import load_notes
from tests.bed.synthetic import synthetic_take
from tests.bed.take import Take

REAL_SHARE, SYNTHETIC_SHARE = 0.5, 0.12
INSTRUMENTS, INSTRUMENT_SHARES = ("horn", "trombone", "trumpet", "tuba"), (0.61, 0.17, 0.13, 0.09)
ROOMS, ROOM_SHARES = ("dry", "typ", "hard"), (0.2, 0.6, 0.2)


class Sources:
    """Recorded notes and takes of one split."""

    def __init__(self, shared: Path | str, split: str) -> None:
        self.notes = load_notes(shared, split)
        self.takes = real_takes(shared, split)


def training_take(sources: Sources, rng: np.random.Generator) -> Take:
    """One take of the mixture."""
    kind = rng.random()
    if kind < REAL_SHARE:
        return _real(sources.takes, rng)
    settings = {
        "notes_per_s": float(np.exp(rng.uniform(np.log(2.5), np.log(15)))),
        "articulation": str(rng.choice(ARTICULATIONS, p=(0.5, 0.2, 0.3))),
        "sloppy": bool(rng.random() < 0.6),
        "faults": bool(rng.random() < 0.7),
        "lags": bool(rng.random() < 0.5),
        "room": str(rng.choice(ROOMS, p=ROOM_SHARES)),
        "count": 20,
    }
    if kind < REAL_SHARE + SYNTHETIC_SHARE:
        return synthetic_take(rng, **settings)
    instrument = str(rng.choice(INSTRUMENTS, p=INSTRUMENT_SHARES))
    return make_take(rng, sources.notes, instrument=instrument, **settings)


def _real(takes: Sequence[Take], rng: np.random.Generator) -> Take:
    return augmented(rng, takes[int(rng.integers(len(takes)))])
