"""The embedded synthesis: a few harmonics for every family of instruments, with numpy alone.

One turn of a sound is worked out once and read at the note's pitch, so a second of a note costs
one to three milliseconds.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.core.pitch import hz_of_midi
from coach.ports.click import Samples
from coach.ports.ensemble.timbres import LONGEST_RELEASE_S, Partials, Timbre, timbre_of
from coach.ports.ensemble.voicing import NoteKey, velocity_gain

# Read between two places of a turn: with 24 harmonics the error is below -60 dB.
TURN = 2048
# No harmonic above this share of the rate.
HIGHEST = 0.45
# Every pitch starts at another place of its turn: else the peaks of a chord fall together.
SPREAD = 0.618034
VIBRATO_HZ, VIBRATO_IN_S = 5.3, 0.6
BRIGHT_DECAY = 4.0

Floats = NDArray[np.float64]


class Synthesis:
    """A `Voicing` that needs nothing else; the first sample of a note is not zero."""

    def __init__(self, rate: int, a4_hz: float = 440.0) -> None:
        self.rate, self._a4_hz = rate, a4_hz
        self.tail_frames = math.ceil(LONGEST_RELEASE_S * rate)

    def wave(self, key: NoteKey) -> Samples:
        """One note; an attack of 10 to 25 ms, as long as written, then let go over 60 ms or more,
        without a step anywhere."""
        timbre = timbre_of(key.program)
        hz = hz_of_midi(key.pitch, self._a4_hz) * timbre.base
        release = round(timbre.release_s * self.rate)
        # From 1: no sample of the attack is zero, the first one neither.
        frames = np.arange(1, max(1, key.length_frames) + release + 1, dtype=np.float64)
        bright = key.velocity / 127
        partials = int(HIGHEST * self.rate / hz)
        places = _places(timbre, hz, frames / self.rate) + key.pitch * SPREAD
        made = _sounding(timbre, bright, max(1, partials), places, frames / self.rate)
        if timbre.noise:
            made += timbre.noise * _rattle(timbre, key.pitch, frames / self.rate)
        made *= velocity_gain(key.velocity) * _shape(timbre, frames, release, self.rate)
        return made.astype(np.float32)


def _places(timbre: Timbre, hz: float, t: Floats) -> Floats:
    """Turns since the start at each time."""
    turns = hz * t
    if timbre.vibrato_cents:
        swing = hz * (2 ** (timbre.vibrato_cents / 1200) - 1) / (2 * np.pi * VIBRATO_HZ)
        depth = np.minimum(1.0, t / VIBRATO_IN_S)
        turns += swing * depth * (1 - np.cos(2 * np.pi * VIBRATO_HZ * t))
    return turns


def _sounding(timbre: Timbre, bright: float, partials: int, turns: Floats, t: Floats) -> Floats:
    """The harmonics, held or dying away."""
    if timbre.decay_s is None:
        return _read(_turn(timbre.soft, timbre.bright, bright, partials), turns)
    fall = np.exp(-math.log(1000) * t / timbre.decay_s)
    body = fall * _read(_turn(timbre.soft, (), 0.0, partials), turns)
    edge = fall**BRIGHT_DECAY * _read(_turn(timbre.bright, (), 0.0, partials), turns)
    made: Floats = (1 - bright / 2) * body + bright / 2 * edge
    return made


def _rattle(timbre: Timbre, pitch: int, t: Floats) -> Floats:
    noise = np.random.default_rng(pitch).uniform(-1, 1, len(t))
    made: Floats = noise * np.exp(-math.log(1000) * t / (timbre.decay_s or 1.0))
    return made


def _shape(timbre: Timbre, frames: Floats, release: int, rate: int) -> Floats:
    """Straight up from the first frame, and let go along half a cosine."""
    rising = np.minimum(1.0, frames / (timbre.attack_s * rate))
    falling = np.arange(1, release + 1) / release
    rising[-release:] *= np.cos(np.pi / 2 * falling) ** 2
    return rising


def _read(turn: Floats, turns: Floats) -> Floats:
    """One turn read at places, in a straight line from sample to sample."""
    at = turns * TURN
    whole = at.astype(np.intp)
    at -= whole
    # A power of two: the rest of the division by TURN.
    whole &= TURN - 1
    low = turn[whole]
    whole += 1
    at *= turn[whole] - low
    at += low
    return at


@lru_cache(maxsize=1024)
def _turn(soft: Partials, bright: Partials, share: float, partials: int) -> Floats:
    """One turn of the harmonics that the rate has room for, peak 1, its first sample once more at
    the end; `share` of `bright` in it."""
    places = np.arange(TURN + 1) / TURN
    made = np.zeros(TURN + 1)
    for n in range(1, min(partials, max(len(soft), len(bright))) + 1):
        strength = (1 - share) * _strength(soft, n) + share * _strength(bright, n)
        made += strength * np.sin(2 * np.pi * n * places)
    peak = float(np.max(np.abs(made)))
    made *= 1 / peak if peak else 0.0
    made[-1] = made[0]
    return made


def _strength(partials: Partials, n: int) -> float:
    return partials[n - 1] if n <= len(partials) else 0.0
