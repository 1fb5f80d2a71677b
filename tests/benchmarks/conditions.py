"""What odd conditions cost: other recorders, another tuning, off the click, breaking off.

`python -m tests.benchmarks.conditions [--quick] [--name CONDITION] [--weights FILE]` prints figures
and asserts nothing.  Needs the samples beside the checkout.  Beside each changed take stands the
same take unchanged, heard in the same run, and a null that reports the expected times.  Columns:
F-measure of attacks within 10 ms, the bias of the unchanged takes removed (and at each rate); share
of the true attacks heard that near, and for the note that they belong to; bias in ms; share of
clean notes called anything else; share unsure; share of the played notes not found.  Then what the
report says.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

import coach
from tests.bed.conditions import CONDITIONS, pair
from tests.bed.predictors import heard_of, null
from tests.bed.render import ARTICULATIONS, make_take
from tests.bed.score import Scored, scored, timing, verdicts
from tests.bed.sources import SourceNote, load_notes
from tests.bed.take import Take
from tests.bed.weights import use

SHARED = Path(__file__).resolve().parents[3] / "shared"
RATES = (6, 10)
NOTES = 32
FOUND_S = 0.025
PLACES = [(room, sloppy) for room in ("dry", "typ") for sloppy in (False, True)]


@dataclass(frozen=True, slots=True)
class Job:
    condition: str
    notes_per_s: int
    articulation: str
    room: str
    sloppy: bool
    seed: int


@dataclass(frozen=True, slots=True)
class Result:
    """One take, changed and unchanged, and what the report says of the changed one."""

    job: Job
    changed: Scored
    plain: Scored
    null: Scored
    tempo_ratio: float
    remarks: tuple[str, ...]


def main() -> None:
    args = _arguments()
    chosen = [c for c in CONDITIONS if not args.name or c in args.name]
    if not chosen:
        raise SystemExit(f"no such condition; choose from {', '.join(CONDITIONS)}")
    print(
        f"{'':26} {'F10':>5} {'plain':>5} {'null':>5}  "
        + "  ".join(f"{f'{rate}/s':>5} {'plain':>5}" for rate in RATES)
        + "".join(f"  {name:>5} {'plain':>5}" for name in ("hit10", "bias", "false", "unsr"))
        + f"  {'lost':>5} {'plain':>5}"
    )
    with ProcessPoolExecutor(args.jobs, initializer=use, initargs=(args.weights,)) as pool:
        for name in chosen:
            jobs = _jobs(name, quick=args.quick)
            _print(name, list(pool.map(partial(result_of, args.shared), jobs)))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="What odd conditions cost the coach.")
    parser.add_argument("--quick", action="store_true", help="a quarter of the takes")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--name", action="append", help="only this condition (may be repeated)")
    parser.add_argument("--weights", help="other weights of the follower (.npz)")
    parser.add_argument("--shared", default=str(SHARED), help="folder of samples and recordings")
    return parser.parse_args()


def _jobs(condition: str, *, quick: bool) -> list[Job]:
    """Every rate and articulation, dry and in a small room, tight and sloppy; quick: each rate and
    articulation once."""
    kinds = [(rate, how) for rate in RATES for how in ARTICULATIONS]
    return [
        Job(condition, rate, how, *place, 100 * kind + number)
        for kind, (rate, how) in enumerate(kinds)
        for number, place in enumerate([PLACES[kind % 4]] if quick else PLACES)
    ]


@lru_cache(maxsize=1)
def _notes(shared: str) -> list[SourceNote]:
    return load_notes(shared, "test")


def result_of(shared: str, job: Job) -> Result:
    plain, changed = pair(
        partial(_spliced, shared), job.seed, CONDITIONS[job.condition], room=job.room,
        notes_per_s=job.notes_per_s, articulation=job.articulation, sloppy=job.sloppy, count=NOTES,
    )  # fmt: skip
    said = _assessed(changed)
    return Result(
        job,
        scored(changed, heard_of(said)),
        scored(plain, heard_of(_assessed(plain))),
        scored(changed, null(changed)),
        said["tempo_ratio"],
        tuple(said.get("remarks", ())),
    )


def _spliced(shared: str, rng: np.random.Generator, **settings: Any) -> Take:
    return make_take(rng, _notes(shared), **settings)


def _assessed(take: Take) -> dict[str, Any]:
    expected = coach.Expected.from_dict(take.expected)
    return coach.assess(take.samples, take.rate, expected).to_dict()


def _print(name: str, results: Sequence[Result]) -> None:
    both = [[r.changed for r in results], [r.plain for r in results]]
    bias_s = timing(both[1]).bias_ms / 1000
    times, said = [timing(t, bias_s=bias_s) for t in both], [verdicts(t) for t in both]
    nothing = timing([r.null for r in results], per_take_bias=True)
    print(
        f"{name:26} {times[0].f10:5.3f} {times[1].f10:5.3f} {nothing.f10:5.3f}  "
        + "  ".join(_at_rate(results, rate, bias_s) for rate in RATES)
        + "  "
        + "  ".join(
            " ".join(cells)
            for cells in (
                [f"{t.hit10:5.3f}" for t in times],
                [f"{t.bias_ms:5.1f}" for t in times],
                [f"{v.false_alarms:5.3f}" for v in said],
                [f"{v.unsure:5.3f}" for v in said],
                [f"{1 - t.found:5.3f}" for t in times],
            )
        ),
        flush=True,
    )
    _print_words(name, results)


def _at_rate(results: Sequence[Result], rate: int, bias_s: float) -> str:
    mine = [r for r in results if r.job.notes_per_s == rate]
    both = [r.changed for r in mine], [r.plain for r in mine]
    return " ".join(f"{timing(takes, bias_s=bias_s).f10:5.3f}" for takes in both)


def _print_words(name: str, results: Sequence[Result]) -> None:
    """What the report says, and how the notes fare after a break."""
    condition = CONDITIONS[name]
    if condition.tempo != 1:
        off = [abs(r.tempo_ratio / condition.tempo - 1) for r in results]
        print(f"{'':8}tempo told to {100 * median(off):.1f} %, worst {100 * max(off):.1f} %")
    if condition.player is not None:
        _print_breaks([r.changed for r in results])
    for words, count in Counter(w for r in results for w in r.remarks).most_common(3):
        print(f"{'':8}said in {count} of {len(results)} takes: {words}")


def _print_breaks(takes: Sequence[Scored]) -> None:
    """Hits within 25 ms before and after, and how many notes it takes to find back."""
    before: list[bool] = []
    after: list[bool] = []
    back = []
    for take in takes:
        place = _break_of(take)
        hits = [_hit(r) for r in take.rows]
        before += [h for h in hits[:place] if h is not None]
        late = [h for h in hits[place:] if h is not None]
        after += late
        back.append(late.index(True) if True in late else len(late))
    print(
        f"{'':8}within 25 ms: before the break {np.mean(before):.3f}, after it "
        f"{np.mean(after):.3f}; found back after {sorted(back)} notes"
    )
    said = verdicts(takes)
    print(f"{'':8}repeated notes heard {said.extra_recall:.2f}; taken for: {_confused(said)}")


def _break_of(take: Scored) -> int:
    """The first note after the longest pause (the first note left out, if any is)."""
    missed = [k for k, r in enumerate(take.rows) if r.truth.attack_s is None]
    if missed:
        return missed[0]
    at = [r.truth.attack_s or 0.0 for r in take.rows]
    return int(np.argmax(np.diff(at))) + 1


def _hit(row: Any) -> bool | None:
    if row.truth.attack_s is None:
        return None
    return row.heard_s is not None and abs(row.heard_s - row.truth.attack_s) <= FOUND_S


def _confused(said: Any) -> str:
    most = sorted(said.confused.items(), key=lambda pair: -pair[1])[:5]
    return ", ".join(f"{a} for {b} {n}" for (a, b), n in most)


if __name__ == "__main__":
    main()
