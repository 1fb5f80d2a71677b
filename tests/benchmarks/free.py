"""How well free playing is found: `python -m tests.benchmarks.free`.

Takes spliced from recorded notes (test split) and real phrases, with something before them and
written at another tempo (tests.bed.free).  "found": the start within 60 ms and the tempo within
2 % of the line through the true attacks; F10: attacks within 10 ms, beside the same sound judged on
the grid that was meant.  The null takes the first sound above the noise as the start and the
written tempo.  Prints figures and asserts nothing; needs the recordings beside the checkout.
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

import coach
from tests.bed.free import LEADS, START_S, TEMPO_SHARE, FreeTake, first_sound_s, freed
from tests.bed.real import real_takes
from tests.bed.render import ARTICULATIONS, make_take
from tests.bed.score import Heard, NoteHeard, Scored, scored, timing
from tests.bed.sources import SourceNote, load_notes
from tests.bed.take import Take
from tests.conftest import SHARED

ROOMS = ("dry", "typ", "hard")
RATES = (3, 5, 8, 11)
BRASS = ("horn", "trumpet", "trombone", "tuba")


@dataclass(frozen=True, slots=True)
class Spec:
    """One take; `instrument` "phrase" is a real one, `seed` its place."""

    instrument: str
    notes_per_s: int
    room: str
    articulation: str
    faults: bool
    lead: str
    seed: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came out of one take: errors of start (s) and tempo (share), ours and the null's."""

    spec: Spec
    start_s: float
    tempo: float
    null_start_s: float
    null_tempo: float
    free: Scored
    grid: Scored
    null: Scored
    seconds: float

    @property
    def found(self) -> bool:
        return abs(self.start_s) <= START_S and abs(self.tempo) <= TEMPO_SHARE

    @property
    def null_found(self) -> bool:
        return abs(self.null_start_s) <= START_S and abs(self.null_tempo) <= TEMPO_SHARE


def main() -> None:
    args = _arguments()
    outcomes = []
    for spec in specs(range(args.first, args.first + args.seeds)):
        outcomes.append(outcome(args.shared, spec))
        if args.verbose:
            one = outcomes[-1]
            print(
                f"{'' if one.found else 'LOST '}{spec} {1000 * one.start_s:.0f} ms, "
                f"{100 * one.tempo:.1f} %",
                flush=True,
            )
    spliced = [o for o in outcomes if o.spec.instrument != "phrase"]
    _print_head()
    for name, key in KEYS.items():
        for value in dict.fromkeys(key(o.spec) for o in spliced):
            _print_row(f"{name} {value}", [o for o in spliced if key(o.spec) == value])
    _print_row("dry and typ, no warm-up", [o for o in spliced if _usual(o.spec)])
    _print_row("all spliced", spliced)
    _print_row("real phrases", [o for o in outcomes if o.spec.instrument == "phrase"])


KEYS: dict[str, Callable[[Spec], object]] = {
    "room": lambda s: s.room,
    "notes a second": lambda s: s.notes_per_s,
    "articulation": lambda s: s.articulation,
    "instrument": lambda s: s.instrument,
    "faults": lambda s: "yes" if s.faults else "no",
    "lead": lambda s: s.lead,
}


def _usual(spec: Spec) -> bool:
    return spec.room != "hard" and spec.lead != "warm-up"


def specs(seeds: Sequence[int]) -> Iterator[Spec]:
    """One take a seed of each instrument, speed and room; the rest goes round."""
    kinds = itertools.product(seeds, RATES, ROOMS, BRASS)
    for place, (seed, rate, room, brass) in enumerate(kinds):
        how = ARTICULATIONS[(place + place // 12 + seed) % 3]
        # Not in step with the instruments, of which there are four too.
        lead = LEADS[max(0, (place // 4 + place) % 4 - 1)]
        faults = (place // 2 + place // 12 + seed) % 2 == 1
        yield Spec(brass, rate, room, how, faults, lead, 1000 * seed + place)
    for seed in (2 * s + half for s in seeds for half in (0, 1)):
        for k in range(len(_real(str(SHARED)))):
            yield Spec("phrase", 0, "real", "real", False, LEADS[seed % 2], 100 * seed + k)


def outcome(shared: str, spec: Spec) -> Outcome:
    made = make(shared, spec)
    began_s = time.perf_counter()
    report, free = _judged(made.free)
    seconds = time.perf_counter() - began_s
    due_s = report.verdicts[0].due.frame / report.rate
    null_s = first_sound_s(made.free.samples)
    return Outcome(
        spec,
        due_s - made.start_s,
        report.tempo_ratio / made.tempo_ratio - 1,
        null_s - made.start_s,
        1 / made.tempo_ratio - 1,
        scored(made.free, free),
        scored(made.grid, _judged(made.grid)[1]),
        scored(made.free, _null(made.free, null_s)),
        seconds,
    )


def make(shared: str, spec: Spec) -> FreeTake:
    """The take of a `Spec`, the same each time."""
    rng = np.random.default_rng((77, spec.seed))
    if spec.instrument == "phrase":
        return freed(rng, _real(shared)[spec.seed % 100], spec.lead)
    settings: dict[str, Any] = {"instrument": spec.instrument, "room": spec.room}
    take = make_take(
        rng,
        _notes(shared),
        notes_per_s=spec.notes_per_s,
        articulation=spec.articulation,
        sloppy=True,
        faults=spec.faults,
        **settings,
    )
    warm_up = None
    if spec.lead == "warm-up":
        count = int(rng.integers(2, 5))
        warm_up = make_take(rng, _notes(shared), notes_per_s=3, count=count, **settings)
    return freed(rng, take, spec.lead, warm_up)


@lru_cache(maxsize=1)
def _notes(shared: str) -> list[SourceNote]:
    return load_notes(shared, "test")


@lru_cache(maxsize=1)
def _real(shared: str) -> list[Take]:
    return real_takes(shared, "test")


def _judged(take: Take) -> tuple[coach.Report, Heard]:
    report = coach.assess(take.samples, take.rate, coach.Expected.from_dict(take.expected))
    result = report.to_dict()
    notes = tuple(NoteHeard(n["attack_s"], n["verdict"], n["lag_ms"]) for n in result["notes"])
    attacks = [n.attack_s for n in notes if n.attack_s is not None]
    return report, Heard(tuple(attacks), notes)


def _null(take: Take, start_s: float) -> Heard:
    onsets = np.array(take.onsets_s)
    at = (start_s + onsets - onsets[0]).tolist()
    return Heard(tuple(at), tuple(NoteHeard(a, "clean", None) for a in at))


def _print_head() -> None:
    print(
        f"{'':28} {'takes':>5}  {'found':>5} {'null':>5}   {'F10':>5} {'grid':>5} {'null':>5}"
        f"   {'start ms':>10}  {'tempo %':>9}  {'s each':>6}"
    )


def _print_row(name: str, rows: Sequence[Outcome]) -> None:
    if not rows:
        return
    found, null = (np.mean([getattr(o, w) for o in rows]) for w in ("found", "null_found"))
    f10 = [timing([getattr(o, w) for o in rows]).f10 for w in ("free", "grid")]
    f10.append(timing([o.null for o in rows], per_take_bias=True).f10)
    start = np.percentile(np.abs([1000 * o.start_s for o in rows]), [50, 90])
    tempo = np.percentile(np.abs([100 * o.tempo for o in rows]), [50, 90])
    print(
        f"{name:28} {len(rows):5d}  {found:5.3f} {null:5.3f}   "
        + " ".join(f"{v:5.3f}" for v in f10)
        + f"   {start[0]:4.0f} /{start[1]:4.0f}  {tempo[0]:4.2f}/{tempo[1]:4.1f}"
        + f"  {np.mean([o.seconds for o in rows]):6.2f}",
        flush=True,
    )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="How well free playing is found.")
    parser.add_argument("--seeds", type=int, default=1, help="takes of each kind")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--shared", default=str(SHARED), help="folder of samples and recordings")
    parser.add_argument("--verbose", action="store_true", help="every take")
    return parser.parse_args()


if __name__ == "__main__":
    main()
