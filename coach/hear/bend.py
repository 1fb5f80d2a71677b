"""Where a note stops: the bend in the level of its own harmonics.

The level is that of the first harmonics, through a Hann window of 40 ms or 2.5 periods, in steps of
2 ms.  Where the player stops, it bends from the note's own slope into the fall: of two straight
lines (level in dB over time) that meet, the bend is where they fit best with least squares.  The
echo of a hall makes the fall slow but does not move the bend, as it moves any threshold.

Measured (`python -m tests.benchmarks.releases`): the bend less the known end, median and 95 %
around it in ms; beside it where the level is 15 dB down, less 35 ms (`noteends`).

    simulated notes   dry +5, 7 (+39, 14)   usual room +7, 24 (+80, 49)   hard +16, 167 (+288, 853)
    recorded notes    dry -1, 23 (+3, 33)   usual room -1, 69 (+58, 72)   hard -2, 166 (+315, 811)

The hard room echoes for 0.7 to 1 s, 1 to 8 dB under the sound, in noise.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from coach.core.pitch import hz_of_midi

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

STEP_S, WINDOW_S, PERIODS = 0.002, 0.04, 2.5
HARMONICS, HIGHEST_HZ = 8, 4000.0
TUNING_CENTS, TUNED_OVER_S = np.arange(-60, 61, 6), 0.3
ATTACK_S, NEAR_S = 0.07, 0.15
# A note has ended where it is so far under what it was, and stays there.
ENDED_DB, CLEAR_DB, NEAR_DB, BEND_DB = 12.0, 2.0, 6.0, 3.0
# The bend is looked for around the last step within BEND_DB, the lines laid over more.
BACK_S, AHEAD_S, LINE_S = 0.14, 0.02, 0.25
# A fall by 60 dB in 0.3 s: few halls are so dry.
STEEP_DB_S = 200.0


def stop_frame(samples: Samples, rate: int, pitch: float, start: int, limit: int) -> int | None:
    """Where the note of MIDI number `pitch`, begun at frame `start` of `samples` (float32, (n,)),
    stops, in frames of `samples`; None if it does not fall silent before `limit`."""
    hz = _tuned(samples[start + round(ATTACK_S * rate / 2) :], rate, pitch)
    levels, step = harmonics_db(samples[:limit], rate, hz)
    first = (start + round(ATTACK_S * rate)) // step
    at = _bend(levels[first:], round(STEP_S * rate) / rate)
    return None if at is None else (first + at) * step


def harmonics_db(samples: Samples, rate: int, hz: float) -> tuple[Floats, int]:
    """(level in dB of the first harmonics of `hz` at each step, frames of a step)."""
    step, half = round(STEP_S * rate), round(max(WINDOW_S, PERIODS / hz) * rate / 2)
    order = np.arange(1, HARMONICS + 1)
    order = order[order * hz < min(HIGHEST_HZ, 0.45 * rate)]
    window = np.hanning(2 * half + 1)
    turns = np.outer(np.arange(-half, half + 1), order) * (hz / rate)
    waves = (window / window.sum())[:, None] * np.exp(-2j * np.pi * turns)
    parts = sliding_window_view(np.pad(samples, half), 2 * half + 1)[::step]
    power = np.sum(np.abs(parts @ waves.astype(np.complex64)) ** 2, axis=1, dtype=np.float64)
    levels: Floats = 10 * np.log10(power + 1e-12)
    return levels, step


def _tuned(samples: Samples, rate: int, pitch: float) -> float:
    """The frequency near `pitch` at which the harmonics are strongest."""
    part = samples[: round(TUNED_OVER_S * rate)].astype(np.float64)
    part = part * np.hanning(len(part))
    order, at = np.arange(1, 7), np.arange(len(part))
    tried = [hz_of_midi(pitch + cents / 100) for cents in TUNING_CENTS]
    waves = (np.exp(-2j * np.pi * hz / rate * np.outer(order, at)) for hz in tried)
    return tried[int(np.argmax([np.sum(np.abs(wave @ part) ** 2) for wave in waves]))]


def _bend(levels: Floats, step_s: float) -> int | None:
    """The step at which the level begins to fall for good; None where it does not fall."""
    near = round(NEAR_S / step_s)
    if len(levels) < near:
        return None
    loud = _loudness(levels, near)
    over = int(np.nonzero(levels >= loud - ENDED_DB)[0][-1])
    if over > len(levels) - 5 or float(np.min(levels[over:])) > loud - ENDED_DB - CLEAR_DB:
        return None
    bends = _likely(levels, loud, over, step_s)
    low = max(0, int(bends[0]) - round(LINE_S / step_s))
    return low + _knee(levels[low : over + 1], bends - low)


def _likely(levels: Floats, loud: float, over: int, step_s: float) -> NDArray[np.int64]:
    """The steps in question.  Where the fall is steep it is all there is, and the level may have
    sunk before; where it is slow it is a hall's, and begins near where the level was whole."""
    last = int(np.nonzero(levels >= loud - BEND_DB)[0][-1])
    earliest, latest = last - round(BACK_S / step_s), last + round(AHEAD_S / step_s)
    before, after = over - round(2 * AHEAD_S / step_s), over + round(AHEAD_S / step_s)
    rate = (levels[max(0, before)] - levels[min(after, len(levels) - 1)]) / (3 * AHEAD_S)
    if rate > STEEP_DB_S:
        earliest = max(earliest, over - round((ENDED_DB / rate + 2 * AHEAD_S) / step_s))
        latest = over - 3
    first = max(3, min(earliest, over - 4))
    return np.arange(first, max(first + 1, min(over - 3, latest)))


def _loudness(levels: Floats, near: int) -> float:
    """The level shortly before the note falls."""
    top = float(np.max(levels))
    body = float(np.median(levels[levels >= top - 2 * NEAR_DB]))
    last = int(np.nonzero(levels >= max(body, top - NEAR_DB) - NEAR_DB)[0][-1])
    return float(np.median(levels[max(0, last - near) : last + 1]))


def _knee(levels: Floats, bends: NDArray[np.int64]) -> int:
    """Of `bends` (steps) the one at which two lines that meet there fit `levels` best."""
    since = np.arange(len(levels))[None, :] - bends[:, None]
    lines = np.stack([np.ones(since.shape), np.minimum(since, 0), np.maximum(since, 0)], axis=2)
    across = np.swapaxes(lines, 1, 2)
    found = np.linalg.solve(across @ lines, across @ levels[:, None])
    errors = np.sum((levels[None, :, None] - lines @ found) ** 2, axis=(1, 2))
    return int(bends[np.argmin(errors)])
