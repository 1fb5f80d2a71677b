"""Pitches and times of an invented line, and how a player departs from its times."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SHAPES = ("scale", "scale", "arpeggio", "thirds", "repeat", "turn", "leap", "chromatic")
MAJOR = (0, 2, 4, 5, 7, 9, 11)
CHORD = (0, 4, 7)


def pitches(rng: np.random.Generator, allowed: Sequence[int], count: int) -> list[int]:
    """A line of scales, arpeggios, repeated notes and leaps through the `allowed` pitches."""
    usable = np.array(sorted(allowed))
    # Stay in one register for a while: a window of about two octaves.
    middle = int(rng.choice(usable))
    near = usable[np.abs(usable - middle) <= 12]
    key = int(rng.integers(12))
    made = [int(rng.choice(near))]
    while len(made) < count:
        made += _figure(rng, near, key, made[-1])
    return made[:count]


def _figure(rng: np.random.Generator, near: NDArray[np.int_], key: int, here: int) -> list[int]:
    shape = SHAPES[int(rng.integers(len(SHAPES)))]
    length, side = int(rng.integers(3, 9)), int(rng.choice((-1, 1)))
    if shape == "repeat":
        return [here] * int(rng.integers(1, 6))
    if shape == "leap":
        return [int(rng.choice(near))]
    steps = {"arpeggio": CHORD, "chromatic": tuple(range(12))}.get(shape, MAJOR)
    ladder = [int(p) for p in near if (int(p) - key) % 12 in steps] or [int(p) for p in near]
    place = int(np.argmin([abs(p - here) for p in ladder]))
    offsets = {
        "thirds": [k // 2 + 2 * (k % 2) for k in range(1, length + 1)],
        "turn": [1, 0, -1, 0],
    }.get(shape, list(range(1, length + 1)))
    found = []
    for offset in offsets:
        index = place + side * offset
        # Turn round at the end of the range.
        period = max(1, 2 * (len(ladder) - 1))
        index %= period
        found.append(ladder[index if index < len(ladder) else period - index])
    return found


def grid(rng: np.random.Generator, notes_per_s: float, count: int, start_s: float) -> Floats:
    """Expected onsets: mostly even; one take in five has longer notes now and then."""
    steps = np.ones(count)
    if rng.random() < 0.2:
        steps[rng.random(count) < 0.15] = 2
    return start_s + np.concatenate([[0.0], np.cumsum(steps)[:-1]]) / notes_per_s


def tight(rng: np.random.Generator, onsets: Floats) -> Floats:
    """Deviations in seconds of a good player: a constant and a little jitter, all within 60 % of
    the tolerance."""
    span = float(np.min(np.diff(onsets))) if len(onsets) > 1 else 1.0
    limit = min(0.025, 0.2 * span)
    jitter = np.clip(rng.normal(0, 0.3 * limit, len(onsets)), -0.6 * limit, 0.6 * limit)
    return np.asarray(jitter + rng.uniform(-0.02, 0.03))


def sloppy(rng: np.random.Generator, onsets: Floats) -> Floats:
    """Deviations in seconds of a careless player: a slow drift to 40 ms either way and a jitter of
    8 to 20 ms, less where the notes are dense, so that their order stays."""
    count = len(onsets)
    span = float(np.min(np.diff(onsets))) if count > 1 else 1.0
    t = onsets - onsets[0]
    length = max(float(t[-1]), 1.0)
    period = length * rng.uniform(0.45, 1.1)
    phase = rng.choice((0.0, np.pi)) + rng.uniform(-0.4, 0.4)
    drift = rng.uniform(0.026, 0.040) * np.sin(2 * np.pi * t / period + phase)
    walk = np.cumsum(rng.normal(0, 1, count))
    walk -= np.linspace(walk[0], walk[-1], count)
    drift += 0.010 * walk / max(1e-9, float(np.std(walk)))
    sd = min(rng.uniform(0.008, 0.02), 0.16 * span)
    jitter = np.clip(rng.normal(0, sd, count), -2 * sd, 2 * sd)
    return np.asarray(drift + jitter + rng.uniform(-0.02, 0.03))


def in_order(attacks: Floats, onsets: Floats, share: float = 0.5) -> Floats:
    """The attacks, pushed apart where two come nearer than `share` of their due interval."""
    made = attacks.copy()
    for k in range(1, len(made)):
        made[k] = max(made[k], made[k - 1] + share * (onsets[k] - onsets[k - 1]))
    return made
