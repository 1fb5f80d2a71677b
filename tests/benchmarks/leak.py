"""Hearing the player through the ensemble: `python -m tests.benchmarks.leak [--seeds N]`.

An invented eight-part excerpt (tests/bed/leaking) with two bars of lead-in; 32 notes of the horn
with mistakes.  Columns: share of right verdicts of all notes (unsure counts as not right), its
standard error over the seeds, and its difference to headphones in points; false alarms (clean notes
called anything else), unsure; what remains of the ensemble against what was there while the horn
plays, in dB, as it is and as the canceller estimates it; the work per second of sound.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.hear.follow.ear import FollowEar
from coach.hear.leak import LeakCanceller
from coach.hear.through import ThroughEar
from coach.roles import Ear
from tests.bed.leaking import Tutti, leaked, recorded_notes, tutti
from tests.bed.predictors import heard_of
from tests.bed.score import Scored, scored, verdicts
from tests.bed.take import RATE, Take

SHARED = Path(__file__).resolve().parents[3] / "shared"
BLOCK = 4096
LEVELS_DB = (-20.0, -10.0, 0.0)
WAYS = ("uncancelled", "cancelled")


@dataclass(frozen=True, slots=True)
class Row:
    """One take heard one way; decibels None where there was nothing to remove."""

    scored: Scored
    right: float
    left_db: float | None = None
    told_db: float | None = None
    work: float | None = None


def source(made: Tutti) -> Callable[[int, int], NDArray[np.float32]]:
    """What was played out, silence after its end."""
    played = np.concatenate([made.played, np.zeros(RATE)]).astype(np.float32)
    return lambda frame, length: played[frame : frame + length]


def judged(take: Take, ear: Ear) -> Scored:
    """The verdicts on a take through an ear."""
    judge = Judge(Expected.from_dict(take.expected).dues(RATE), Rules(), RATE)
    for start in range(0, len(take.samples), BLOCK):
        block = take.samples[start : start + BLOCK]
        judge.step(ear.feed(Chunk(start, len(block), block)))  # type: ignore[arg-type]
    judge.step(ear.finish())
    judge.finish(follows=True)
    return scored(take, heard_of(judge.report().to_dict()))


def heard(made: Tutti, take: Take, way: str) -> Scored:
    dues = Expected.from_dict(take.expected).dues(RATE)
    if way == "cancelled":
        return judged(take, ThroughEar(dues, RATE, source(made)))
    return judged(take, FollowEar(dues, RATE))


def right_share(take: Scored) -> float:
    """Of all notes; unsure is not right."""
    fair = [r.verdict == r.truth.kind or r.verdict in r.truth.also for r in take.rows]
    return sum(fair) / len(fair)


def removal(made: Tutti, take: Take, clean: Take) -> tuple[float, float, float]:
    """(what is left against what leaked, the same as estimated, work per second of sound)."""
    canceller = LeakCanceller(RATE, source(made))
    begun = time.perf_counter()
    cleaned = [canceller.feed(k, take.samples[k : k + BLOCK]) for k in _starts(take)]
    work = (time.perf_counter() - begun) / (len(take.samples) / RATE)
    first = round(made.first_s * RATE)
    leak = (take.samples.astype(float) - clean.samples)[first:]
    left = (np.concatenate(cleaned).astype(float) - clean.samples)[first:]
    left_db = 10 * np.log10(np.sum(left**2) / np.sum(leak**2))
    told_db = canceller.residual_db(first, len(take.samples) - first) - canceller.leak_db
    return float(left_db), told_db, work


def _starts(take: Take) -> range:
    return range(0, len(take.samples), BLOCK)


def rows_of(seeds: int, leak_db: float | None, room: str, way: str) -> list[Row]:
    """One row a seed: the same takes and rooms for every level and way."""
    notes = recorded_notes(SHARED)
    made = []
    for seed in range(seeds):
        excerpt = tutti(np.random.default_rng(seed), notes)
        take = leaked(np.random.default_rng(1000 + seed), excerpt, leak_db, room)
        result = heard(excerpt, take, way)
        more: tuple[float, ...] = ()
        if way == "cancelled" and leak_db is not None:
            clean = leaked(np.random.default_rng(1000 + seed), excerpt, None, room)
            more = removal(excerpt, take, clean)
        made.append(Row(result, right_share(result), *more))
    return made


def _line(name: str, rows: Sequence[Row], headphones: float) -> str:
    right = np.array([r.right for r in rows])
    said = verdicts([r.scored for r in rows])
    error = float(np.std(right)) / max(1, len(rows) - 1) ** 0.5
    words = (
        f"{name:28} {100 * right.mean():5.1f} ± {100 * error:3.1f} "
        f"{100 * (right.mean() - headphones):+6.1f}  {100 * said.false_alarms:5.1f} "
        f"{100 * said.unsure:6.1f}"
    )
    if rows[0].left_db is None:
        return words
    left, told, work = (
        np.array([getattr(r, name) for r in rows]) for name in ("left_db", "told_db", "work")
    )
    return f"{words}   {left.mean():6.1f} {told.mean():6.1f}  {work.mean():5.3f}"


def main() -> None:
    parser = argparse.ArgumentParser(description="Hearing the player through the ensemble.")
    parser.add_argument("--seeds", type=int, default=12)
    seeds = parser.parse_args().seeds
    print(f"{'':28} {'right':>11} {'diff':>6}  false unsure     left   told   work")
    plain = rows_of(seeds, None, "typ", "uncancelled")
    headphones = float(np.mean([r.right for r in plain]))
    print(_line("headphones", plain, headphones), flush=True)
    kept = rows_of(seeds, None, "typ", "cancelled")
    print(_line("headphones, cancelled", kept, headphones), flush=True)
    for room in ("typ", "hard"):
        for leak_db in LEVELS_DB:
            for way in WAYS:
                rows = rows_of(seeds, leak_db, room, way)
                print(_line(f"{room} {leak_db:+3.0f} dB {way}", rows, headphones), flush=True)


if __name__ == "__main__":
    main()
