"""Takes of the simulated player: natural attacks, glides and releases, and nothing from a disk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random
from typing import Any, cast

import numpy as np

from coach.core.timeline import Due, Plan
from coach.ports.player.skill import STEADY, Fault, PlayedNote, perform
from coach.ports.player.tone import render
from tests.bed import line
from tests.bed.faults import Slip, slips
from tests.bed.render import COUNT_IN, beats, slurs
from tests.bed.room import click_waves, level_of, recorded
from tests.bed.take import RATE, SPLIT_MS, Take, Truth, expected_of, timed

RANGES = {"horn": (36, 77), "trombone": (40, 70), "trumpet": (52, 80), "tuba": (31, 58)}
TAIL_S = 0.6


def synthetic_take(
    rng: np.random.Generator,
    *,
    instrument: str = "horn",
    notes_per_s: float,
    count: int = 24,
    articulation: str = "tongued",
    sloppy: bool = False,
    faults: bool = False,
    lags: bool = False,
    room: str = "dry",
    click_db: float | None = None,
) -> Take:
    """As `make_take`, played by the simulated player; the attack truth is its own frame."""
    low, high = RANGES[instrument]
    lowest = low if notes_per_s <= 8 else max(low, 41)
    beat_s, start_s = beats(rng, notes_per_s, click_db)
    pitches = line.pitches(rng, range(lowest, high + 1), count)
    slurred = slurs(rng, pitches, articulation)
    onsets = line.grid(rng, notes_per_s, count, start_s)
    made = slips(rng, pitches, slurred, 1 / notes_per_s, faults=faults, lags=lags)
    off = line.sloppy(rng, onsets) if sloppy else line.tight(rng, onsets)
    attacks = line.in_order(np.maximum(onsets + off + [s.off_s for s in made], 0.05), onsets)
    played = _performed(rng, pitches, slurred, attacks, made, 1 / notes_per_s)
    tuning = rng.uniform(-0.2, 0.2)
    tuned = tuple(
        replace(
            p, pitch=p.pitch + tuning, split_to=None if p.split_to is None else p.split_to + tuning
        )
        for p in played
    )
    frames = max(p.end_frame for p in tuned) + int(TAIL_S * RATE)
    sound = render(tuned, RATE, 0, frames, seed=int(rng.integers(1 << 30))).astype(np.float64)
    clicks_s, clicks = np.zeros(0), None
    if click_db is not None:
        clicks_s = np.arange(start_s - COUNT_IN * beat_s, frames / RATE - 0.3, beat_s)
        clicks = click_waves(rng, clicks_s, frames, level_of(sound) * 10 ** (click_db / 20))
    lengths = np.append(np.diff(onsets), 1 / notes_per_s)
    expected = expected_of(instrument, onsets, lengths, pitches, slurred, clicks_s)
    truth = timed(_truth(played, pitches, slurred, made), expected)
    extras = tuple(p.frame / RATE for p in played if p.due is None)
    name = f"synthetic {articulation} {notes_per_s:g}/s {room}"
    return Take(recorded(rng, sound, room, clicks), RATE, expected, truth, extras, name)


def _performed(
    rng: np.random.Generator,
    pitches: Sequence[int],
    slurred: Sequence[bool],
    attacks: line.Floats,
    made: Sequence[Slip],
    interval_s: float,
) -> tuple[PlayedNote, ...]:
    """The player plays exactly these attacks and slips, and is otherwise steady."""
    ends = np.append(attacks[1:], attacks[-1] + max(0.3, interval_s))
    dues = tuple(
        Due(k, pitch, round(float(at) * RATE), max(1, round(float(end - at) * RATE)), slur)
        for k, (pitch, at, end, slur) in enumerate(
            zip(pitches, attacks, ends, slurred, strict=True)
        )
    )
    # `perform` reads the rate and the dues only.
    plan = Plan(cast(Any, None), RATE, 0, dues[0].frame, dues[-1].frame, dues, ())
    tongue_ms = float(rng.uniform(15, 70))
    skill = replace(STEADY, tongue_ms=tongue_ms, level_jitter_db=1.2)
    script = {k: _fault(slip) for k, slip in enumerate(made)}
    return perform(plan, skill, Random(int(rng.integers(1 << 30))), script=script)


def _fault(slip: Slip) -> Fault:
    return Fault(
        missing=slip.kind == "missed",
        late_ms=0.0,
        semitones=round(slip.semitones),
        split_semitones=slip.split_semitones or 0.0,
        split_ms=1000 * slip.split_s if slip.split_semitones else 0.0,
        quiet_db=slip.quiet_db,
        lag_ms=1000 * slip.lag_s if slip.lag_s is not None else 0.0,
        extra=bool(slip.extra_share),
    )


def _truth(
    played: Sequence[PlayedNote],
    pitches: Sequence[int],
    slurred: Sequence[bool],
    made: Sequence[Slip],
) -> list[Truth]:
    by_due = {p.due: p for p in played if p.due is not None}
    truth = []
    for k, slip in enumerate(made):
        note = by_due.get(k)
        moves = k > 0 and pitches[k] != pitches[k - 1] and not slurred[k] and note is not None
        lag_ms = 1000 * slip.lag_s if slip.lag_s is not None else 0.0
        # The simulated player cannot start on no pitch at all.
        kind = slip.kind if slip.kind in ("missed", "wrong", "muffled") else "clean"
        if slip.kind == "split" and slip.split_semitones:
            kind = "split"
        truth.append(
            Truth(
                k,
                None if note is None else note.frame / RATE,
                pitches[k] + round(slip.semitones),
                kind,
                slurred[k],
                lag_ms if moves else None,
                1000 * slip.split_s if kind == "split" else 0.0,
                also=("split",) if lag_ms >= SPLIT_MS - 5 else (),
            )
        )
    return truth
