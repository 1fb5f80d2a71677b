"""The mixture of takes that the follower's nets are trained on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.signal import butter, sosfilt

from tests.bed.augment import augmented
from tests.bed.real import real_takes
from tests.bed.render import ARTICULATIONS, make_take
from tests.bed.room import automatic_gain
from tests.bed.sources import load_notes
from tests.bed.synthetic import synthetic_take
from tests.bed.take import RATE, Take

REAL_SHARE, SYNTHETIC_SHARE = 0.36, 0.1
INSTRUMENTS, INSTRUMENT_SHARES = ("horn", "trombone", "trumpet", "tuba"), (0.61, 0.17, 0.13, 0.09)
ROOMS, ROOM_SHARES = ("dry", "typ", "hard"), (0.2, 0.55, 0.25)
MICROPHONE_SHARE = 0.25
VARIED_SHARE = 0.6


class Sources:
    """Recorded notes and takes of one split."""

    def __init__(self, shared: Path | str, split: str) -> None:
        self.notes = load_notes(shared, split)
        self.takes = real_takes(shared, split)


def training_take(sources: Sources, rng: np.random.Generator) -> Take:
    """One take of the mixture."""
    take = _played(sources, rng)
    return through_microphone(rng, take) if rng.random() < MICROPHONE_SHARE else take


def through_microphone(rng: np.random.Generator, take: Take) -> Take:
    """The take as a poor microphone or a laptop gives it: a narrow band, or a fast gain."""
    sound = take.samples.astype(np.float64)
    if rng.random() < 0.6:
        edge_hz = float(np.exp(rng.uniform(np.log(3000), np.log(10_000))))
        sound = np.asarray(sosfilt(butter(4, edge_hz, fs=RATE, output="sos"), sound))
    if rng.random() < 0.6:
        sound = automatic_gain(sound, float(rng.uniform(0.1, 0.8)))
    sound *= 10 ** (-1 / 20) / max(1.0, float(np.max(np.abs(sound))))
    return replace(take, samples=sound.astype(np.float32))


def _played(sources: Sources, rng: np.random.Generator) -> Take:
    kind = rng.random()
    if kind < REAL_SHARE:
        return _real(sources.takes, rng)
    settings = {
        "notes_per_s": float(np.exp(rng.uniform(np.log(2.5), np.log(15)))),
        "articulation": str(rng.choice(ARTICULATIONS, p=(0.5, 0.2, 0.3))),
        "sloppy": bool(rng.random() < 0.6),
        "faults": bool(rng.random() < 0.75),
        "lags": bool(rng.random() < 0.5),
        "room": str(rng.choice(ROOMS, p=ROOM_SHARES)),
        "count": 20,
    }
    if kind < REAL_SHARE + SYNTHETIC_SHARE:
        return synthetic_take(rng, **settings)
    instrument = str(rng.choice(INSTRUMENTS, p=INSTRUMENT_SHARES))
    varied = bool(rng.random() < VARIED_SHARE)
    return make_take(rng, sources.notes, instrument=instrument, varied=varied, **settings)


def _real(takes: Sequence[Take], rng: np.random.Generator) -> Take:
    return augmented(rng, takes[int(rng.integers(len(takes)))])
