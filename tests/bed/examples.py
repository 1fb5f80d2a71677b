"""Takes to examples for the two nets of the follower.

One example an expected note.  For the attack net: the inputs of a window of hops that lies by
chance around the note, and where in it the attack and the take-over of the pitch are (-1: not
played, -2: no truth).  For the note net: the patch at the attack (or, for a note that was not
played and as counter-examples, somewhere else), whether the note is there, its pitch class, whether
it was split.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import HOP, RATE
from coach.hear.follow.inputs import (
    MIDDLE_CLASS,
    PITCH_CLASSES,
    NoteContext,
    note_context,
    note_inputs,
)
from coach.hear.follow.measure import steady_pitch
from coach.hear.follow.net import AHEAD_HOPS, BACK_HOPS
from coach.hear.follow.patch import patch
from coach.hear.resample import Resampler
from tests.bed.take import SPLIT_MS, Take, Truth, intervals

WINDOW_HOPS = 56
NO_TRUTH, NOT_PLAYED = -2.0, -1.0
DOUBTFUL_S = 0.021


@dataclass(frozen=True, slots=True)
class Examples:
    """Arrays with one row an expected note; hops as fractions inside the window."""

    inputs: np.ndarray
    attack: np.ndarray
    takeover: np.ndarray
    real: np.ndarray
    patches: np.ndarray
    contexts: np.ndarray
    there: np.ndarray
    pitch: np.ndarray
    split: np.ndarray


def prepared(take: Take) -> tuple[Bank, float]:
    """The bank of a take at the working rate, and the player's tuning in semitones."""
    sound = Resampler(take.rate, RATE).feed(take.samples)
    bank = Bank({n["midi"] for n in take.expected["notes"]}, keep_s=1e6)
    bank.feed(np.concatenate([sound, np.zeros(2 * RATE, np.float32)]))
    return bank, _tuning(bank, take)


def _tuning(bank: Bank, take: Take) -> float:
    off = []
    for truth in take.truth:
        if truth.attack_s is None:
            continue
        start = round((truth.attack_s + 0.03) * RATE)
        pitch = steady_pitch(bank.part(start, start + 1600), truth.midi)
        if pitch is not None:
            off.append(pitch - truth.midi)
    return float(np.clip(np.median(off), -0.6, 0.6)) if len(off) >= 3 else 0.0


def examples_of(take: Take, rng: np.random.Generator) -> Examples:
    """The examples of one take."""
    bank, tuning = prepared(take)
    notes = take.expected["notes"]
    spans = intervals(take.onsets_s)
    rows = [
        _one(bank, _context(notes, k, spans[k]), take.truth[k], take, tuning, rng)
        for k in range(len(notes))
    ]
    return Examples(*(np.stack(column) for column in zip(*rows, strict=True)))


def _context(notes: list, k: int, span_s: float) -> NoteContext:
    before = notes[k - 1]["midi"] if k else None
    after = notes[k + 1]["midi"] if k + 1 < len(notes) else None
    return NoteContext(notes[k]["midi"], before, after, notes[k]["slurred"], span_s)


def _one(bank, context: NoteContext, truth: Truth, take: Take, tuning: float, rng):
    low = _window(truth, take, rng)
    inputs = note_inputs(bank, context, low - BACK_HOPS, low + WINDOW_HOPS + AHEAD_HOPS)
    attack, takeover = _targets(truth, context, low)
    at, there = _look_at(truth, take, low, rng)
    seen = patch(bank, round(at * RATE), context.pitch + tuning + rng.normal(0, 0.08))
    pitch = _pitch_class(truth, context) if there else -1
    return (
        inputs.astype(np.float16),
        np.float32(attack),
        np.float32(takeover),
        np.float32(truth.mark_kind != "made"),
        seen.astype(np.float16),
        note_context(context).astype(np.float16),
        np.float32(there),
        np.int64(pitch),
        np.float32(truth.split_ms >= SPLIT_MS if truth.split_ms else 0.0),
    )


def _window(truth: Truth, take: Take, rng) -> int:
    """First hop of a window that holds the attack somewhere, or the place it should be at."""
    if truth.attack_s is not None:
        centre = truth.attack_s * RATE / HOP - rng.uniform(0.06, 0.94) * WINDOW_HOPS
    else:
        centre = take.onsets_s[truth.index] * RATE / HOP - rng.uniform(0.3, 0.7) * WINDOW_HOPS
    return int(centre)


def _targets(truth: Truth, context: NoteContext, low: int) -> tuple[float, float]:
    if truth.mark_kind == "unknown" or truth.unc_s > DOUBTFUL_S:
        return NO_TRUTH, NO_TRUTH
    if truth.attack_s is None:
        return NOT_PLAYED, NOT_PLAYED
    if truth.kind in ("wrong", "split"):
        return truth.attack_s * RATE / HOP - low, NO_TRUTH
    attack = truth.attack_s * RATE / HOP - low
    takeover = attack + (truth.lag_ms or 0.0) / 1000 * RATE / HOP
    if truth.mark_kind in ("join", "slur"):
        return NO_TRUTH if not context.slurred else attack, attack
    return attack, takeover if 0 <= takeover < WINDOW_HOPS else NO_TRUTH


def _look_at(truth: Truth, take: Take, low: int, rng) -> tuple[float, bool]:
    """(second to look at, whether the note's attack is there)."""
    if truth.attack_s is not None and rng.uniform() < 0.8:
        return truth.attack_s + rng.normal(0, 0.003), True
    for _ in range(8):
        at = (low + rng.uniform(0.05, 0.95) * WINDOW_HOPS) * HOP / RATE
        attacks = [t.attack_s for t in take.truth if t.attack_s is not None] + list(take.extras)
        if all(abs(at - a) > 0.03 for a in attacks):
            return at, False
    if truth.attack_s is None:
        return take.onsets_s[truth.index], False
    return truth.attack_s, True


def _pitch_class(truth: Truth, context: NoteContext) -> int:
    away = truth.midi - context.pitch + MIDDLE_CLASS
    return away if 0 <= away < PITCH_CLASSES else PITCH_CLASSES
