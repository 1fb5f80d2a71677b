"""Takes to examples for the two nets of the follower.

One example an expected note.  For the attack net: the inputs of a window of hops that lies by
chance around the note, and where in it the attack and the take-over of the pitch are (-1: not
played, -2: no truth).  For the note net, PATCHES looks a note: at the attack (or, for a note that
was not played and as counter-examples, somewhere else), and one at the attack as if another pitch
had been expected; whether the note is there, its pitch class, whether it was split, whether it was
muffled (-1: not known).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

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
from coach.hear.follow.loudness import Loudness
from coach.hear.follow.measure import steady_pitch
from coach.hear.follow.net import AHEAD_HOPS, BACK_HOPS
from coach.hear.follow.patch import patch
from coach.hear.resample import Resampler
from coach.ports.player.skill import partial_step
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
    muffled: np.ndarray


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
    loudness = Loudness()
    rows = []
    for k in range(len(notes)):
        context, truth = _context(notes, k, spans[k]), take.truth[k]
        row, loudness = _one(bank, context, truth, take, (tuning, loudness), rng)
        rows.append(row)
    return Examples(*(np.stack(column) for column in zip(*rows, strict=True)))


def _context(notes: list, k: int, span_s: float) -> NoteContext:
    before = notes[k - 1]["midi"] if k else None
    after = notes[k + 1]["midi"] if k + 1 < len(notes) else None
    return NoteContext(notes[k]["midi"], before, after, notes[k]["slurred"], span_s)


def _one(bank, context: NoteContext, truth: Truth, take: Take, known, rng):
    """(A row of Examples, the loudness known after this note)."""
    tuning, loudness = known
    low = _window(truth, take, rng)
    inputs = note_inputs(bank, context, low - BACK_HOPS, low + WINDOW_HOPS + AHEAD_HOPS)
    attack, takeover = _targets(truth, context, low)
    looks = [
        _look(bank, context, truth, _look_at(truth, take, low, share, rng), known, rng)
        for share in (0.75, 1.0)
    ]
    other = context if truth.kind == "wrong" else _asked_otherwise(context, rng)
    at = _look_at(truth, take, low, 1.0, rng)
    looks.append(_look(bank, other, truth, at, known, rng, same=other is context))
    if truth.attack_s is not None:
        pitch = context.pitch + tuning
        seen = patch(bank, round(truth.attack_s * RATE), pitch)
        loudness = loudness.heard(seen, context.pitch, context.interval_s)
    row = (
        inputs.astype(np.float16),
        np.float32(attack),
        np.float32(takeover),
        np.float32(truth.mark_kind != "made"),
        *(np.stack(column) for column in zip(*looks, strict=True)),
    )
    return row, loudness


def _look(
    bank, context: NoteContext, truth: Truth, at: tuple[float, bool], known, rng, *, same=True
):
    """One look of the note net: patch, context, and the truth of it."""
    tuning, loudness = known
    at_s, there = at
    seen = patch(bank, round(at_s * RATE), context.pitch + tuning + rng.normal(0, 0.08))
    relative = loudness.against(seen, context.pitch, context.interval_s)
    split = truth.split_ms >= SPLIT_MS if truth.split_ms else False
    return (
        seen.astype(np.float16),
        np.concatenate([note_context(context), relative]).astype(np.float16),
        np.float32(there),
        np.int64(_pitch_class(truth, context) if there else -1),
        np.float32(split) if same else np.float32(-1),
        np.float32(truth.kind == "muffled") if same else np.float32(-1),
    )


def _asked_otherwise(context: NoteContext, rng) -> NoteContext:
    """As if another pitch had been on the page: a neighbouring partial or a wrong valve away."""
    partial = round(partial_step(context.pitch, int(rng.choice((-1, 1)))))
    step = int(rng.choice((partial, partial, -1, 1, -2, 2, -3, 3, 5, -5)))
    return replace(context, pitch=context.pitch + (step or 1))


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


def _look_at(truth: Truth, take: Take, low: int, share: float, rng) -> tuple[float, bool]:
    """(second to look at, whether the note's attack is there): by `share`, at the attack."""
    if truth.attack_s is not None and rng.uniform() < share:
        return truth.attack_s + rng.normal(0, 0.004), True
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
