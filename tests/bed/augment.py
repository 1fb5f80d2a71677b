"""Variants of a recorded take: other pitch, other speed with real transitions, other rooms, notes
taken out.  The truth follows every change."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from tests.bed import line
from tests.bed.room import at_gain, level_of, pink, reverberant
from tests.bed.splice import fitting, mixed, resampled
from tests.bed.take import RATE, Take, Truth, expected_of, timed

FASTEST_NOTES_S, SLOWEST_NOTES_S = 8.0, 1.5
CROSS, HOP = 441, 441
LEVEL_CHANGE_DB = 7.0
TONE_DB, SILENT_DB = -12.0, -20.0  # breath and room between tongued notes: -20 to -40 dB
WARP_S, JITTER_S, CONSTANT_S = 0.025, 0.02, 0.03
HOLE_SHARE, WRONG_SHARE = 0.05, 0.06
WRONG_STEPS = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)


def augmented(rng: np.random.Generator, take: Take) -> Take:
    """Another take from this one: resampled by up to 3 semitones, sped up by cutting out the middle
    of long notes and rests, through another gain, tilt, noise and room; now and then a note is
    taken out, or another pitch is expected than was played."""
    samples = take.samples.astype(np.float32)
    truth = list(take.truth)
    if rng.random() < 0.75:
        goal_s = 1 / float(np.exp(rng.uniform(np.log(SLOWEST_NOTES_S), np.log(FASTEST_NOTES_S))))
        samples, truth = hurried(rng, samples, truth, goal_s)
    steps = int(rng.integers(-3, 4))
    tuning = float(rng.uniform(-0.2, 0.2))
    samples, truth = _transposed(samples, truth, steps, tuning)
    samples, truth = _with_holes(rng, samples, truth)
    expected, truth = _expected(rng, take, truth)
    sound = _coloured(rng, samples.astype(np.float64))
    return Take(
        at_gain(rng, sound), RATE, expected, timed(truth, expected), name=f"{take.name} augmented"
    )


def hurried(
    rng: np.random.Generator, samples: NDArray[np.float32], truth: Sequence[Truth], goal_s: float
) -> tuple[NDArray[np.float32], list[Truth]]:
    """Intervals of about `goal_s`, cut out of steady tone and of rests; the start of a note and the
    way it really ends before the next one stay whole."""
    at = np.array([round((t.attack_s or 0.0) * RATE) for t in truth])
    moved = at.copy()
    pieces: list[NDArray[np.float32]] = []
    done = 0
    for here, following in itertools.pairwise(at.tolist()):
        # Looking for the best fit keeps about 15 ms more than was asked for, at each cut.
        surplus = (following - here) - round((goal_s * rng.uniform(0.8, 1.15) - 0.03) * RATE)
        for stop, resume in _cuts(rng, samples, here, following, surplus):
            begin = fitting(samples, stop, resume, CROSS)
            if begin is not None and stop - CROSS >= done:
                pieces += [samples[done : stop - CROSS], mixed(samples, stop, begin, CROSS)]
                done = begin + CROSS
                moved[at >= following] -= begin - (stop - CROSS)
    made = np.concatenate([*pieces, samples[done:]])
    return made, [replace(t, attack_s=int(a) / RATE) for t, a in zip(truth, moved, strict=True)]


def _cuts(
    rng: np.random.Generator, samples: NDArray[np.float32], here: int, following: int, surplus: int
) -> list[tuple[int, int]]:
    """(stop, resume) of what to cut between two attacks, in order: out of the tone, of the rest."""
    level_db = _levels_db(samples[here:following])
    loud = np.flatnonzero(level_db > np.median(level_db[level_db > TONE_DB]) - 6)
    body_end = here + int(loud[-1]) * HOP
    # Mostly the release is shortened too: fast playing has no time for it.
    sounding = loud if rng.random() < 0.7 else np.flatnonzero(level_db > SILENT_DB)
    quiet_from = here + (int(sounding[-1]) + 1) * HOP + round(rng.uniform(0.005, 0.035) * RATE)
    found = []
    rest = (quiet_from, following - round(rng.uniform(0.012, 0.06) * RATE))
    if rest[1] - rest[0] > 2 * CROSS and surplus > 2 * CROSS:
        found.append((max(rest[0], rest[1] - surplus), rest[1]))
        surplus -= found[0][1] - found[0][0]
    low = here + max(int(loud[0]) * HOP, round(rng.uniform(0.04, 0.09) * RATE))
    high = min(body_end - round(rng.uniform(0.01, 0.05) * RATE), following - round(0.06 * RATE))
    high = min(high, low + surplus)
    if high - low > 3 * CROSS and surplus > 3 * CROSS:
        step = (
            level_db[(low - here) // HOP] - level_db[min(len(level_db), (high - here) // HOP) - 1]
        )
        if abs(step) < LEVEL_CHANGE_DB:
            found.insert(0, (low, high))
    return found


def _levels_db(samples: NDArray[np.float32]) -> line.Floats:
    """RMS each 10 ms, in dB under the loudest."""
    count = max(1, len(samples) // HOP)
    power = np.array([np.mean(samples[k * HOP : (k + 1) * HOP] ** 2) for k in range(count)])
    smooth = np.convolve(power, np.ones(3) / 3, mode="same")  # a low note flutters
    return np.asarray(10 * np.log10(smooth / smooth.max() + 1e-9))


def _transposed(
    samples: NDArray[np.float32], truth: Sequence[Truth], steps: int, tuning: float
) -> tuple[NDArray[np.float32], list[Truth]]:
    """Played back faster or slower: by `steps` semitones and a bit of `tuning`."""
    ratio = 2 ** ((steps + tuning) / 12)
    made = resampled(samples, 0.0, ratio, int(len(samples) / ratio)).astype(np.float32)
    return made, [
        replace(t, attack_s=(t.attack_s or 0.0) / ratio, midi=t.midi + steps, unc_s=t.unc_s / ratio)
        for t in truth
    ]


def _with_holes(
    rng: np.random.Generator, samples: NDArray[np.float32], truth: list[Truth]
) -> tuple[NDArray[np.float32], list[Truth]]:
    """Now and then a note between two clear attacks is silenced: missed."""
    made, kept = samples.copy(), list(truth)
    for k in range(1, len(truth) - 1):
        if rng.random() > HOLE_SHARE or not (_clear(truth[k]) and _clear(truth[k + 1])):
            continue
        low = round((truth[k].attack_s or 0) * RATE) - round(0.01 * RATE)
        high = round((truth[k + 1].attack_s or 0) * RATE) - round(0.005 * RATE)
        gate = np.zeros(high - low)
        fade = min(220, (high - low) // 2)
        gate[:fade] = np.linspace(1, 0, fade)
        gate[-fade:] = np.linspace(0, 1, fade)
        made[low:high] *= gate
        kept[k] = replace(truth[k], kind="missed", attack_s=None)
    return made, kept


def _clear(truth: Truth) -> bool:
    dip = truth.dip_db if truth.dip_db is not None else 0.0
    return truth.mark_kind in ("attack", "staccato") and dip <= -30 and truth.attack_s is not None


def _expected(
    rng: np.random.Generator, take: Take, truth: Sequence[Truth]
) -> tuple[dict[str, Any], list[Truth]]:
    """New expected times around the truth, and now and then another expected pitch."""
    old = np.array(take.onsets_s)
    at = np.array([np.nan if t.attack_s is None else t.attack_s for t in truth])
    known = np.flatnonzero(~np.isnan(at))
    at = np.where(np.isnan(at), np.interp(old, old[known], at[known]), at)
    onsets = bent(rng, at)
    pitches, slurred, made = [], [], []
    for k, note in enumerate(truth):
        step = int(rng.choice(WRONG_STEPS)) if rng.random() < WRONG_SHARE else 0
        wrong = step != 0 and note.attack_s is not None and note.mark_kind != "unknown"
        pitches.append(note.midi + (step if wrong else 0))
        # On the page a join may have been tongued, and a dip may have been a slur.
        flips = k > 0 and note.mark_kind in ("join", "attack") and "_legato" in take.name
        slurred.append(note.slurred != (flips and rng.random() < 0.3))
        kind = "wrong" if wrong else note.kind if note.kind == "missed" else "clean"
        made.append(replace(note, kind=kind, slurred=slurred[-1]))
    lengths = np.append(np.diff(onsets), np.median(np.diff(onsets)))
    instrument = take.expected["instrument"]
    return expected_of(instrument, onsets, lengths, pitches, slurred), made


def bent(rng: np.random.Generator, attacks: line.Floats) -> line.Floats:
    """Expected times for these attacks: a smooth warp, jitter and a constant away from them."""
    at = attacks
    span = float(np.min(np.diff(at))) if len(at) > 1 else 1.0
    t = (at - at[0]) / max(1e-9, at[-1] - at[0])
    phase = rng.uniform(0, np.pi)
    warp = WARP_S * rng.standard_normal() * np.sin(2 * np.pi * rng.uniform(0.5, 1.2) * t + phase)
    sd = min(JITTER_S, 0.17 * span)
    jitter = np.clip(rng.normal(0, sd, len(at)), -2 * sd, 2 * sd)
    onsets = at + warp + jitter + rng.uniform(-CONSTANT_S, CONSTANT_S)
    onsets += max(0.0, 0.02 - float(onsets.min()))
    return line.in_order(onsets, at, 0.6)


def _coloured(rng: np.random.Generator, sound: line.Floats) -> line.Floats:
    """Another tilt of the spectrum, now and then a small room, noise."""
    tilt = sosfilt(butter(1, rng.uniform(300, 1500), "highpass", fs=RATE, output="sos"), sound)
    made = sound + rng.uniform(-0.5, 0.8) * np.asarray(tilt)
    level = level_of(made)
    if rng.random() < 0.5:
        made = reverberant(rng, made, rng.uniform(0.2, 0.5), rng.uniform(-16, -6))
    noise = pink(rng, len(made)) * level * 10 ** (-rng.uniform(22, 55) / 20)
    return np.asarray(made + noise)
