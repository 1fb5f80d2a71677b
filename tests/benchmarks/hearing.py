"""How well the coach hears.

`python -m tests.benchmarks.hearing [--quick] [--jobs 2] [--part NAME] [--weights FILE]` prints
figures and asserts nothing.  Needs the recordings beside the checkout.  Beside every figure of ours
stand those of the coach without its nets (hand-made), of a null that reports the expected times,
and of two blind detectors.  F10 and F25: F-measure within 10 and 25 ms; hit: share of the true
attacks heard that near; times in ms.  By register: the median and the 95th percentile after the
bias of all, and the median of heard minus true as it is.  Of lags: the share of true ones of 15 ms
or more that are told, and the share of notes without one for which one is told, by the least lag
that is told.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from statistics import median

from tests.bed.delay import Delays, delays_of
from tests.bed.lags import lags, lags_told
from tests.bed.parts import KEEPS, Part, Spec, make, parts
from tests.bed.predictors import COMPARED
from tests.bed.score import REGISTERS, Scored, Timing, scored, timing, verdicts
from tests.bed.weights import use

SHARED = Path(__file__).resolve().parents[3] / "shared"
DELAY_TAKES = 6
GLIMPSED_BY_MS = 40.0
Heard = dict[str, Scored]


def main() -> None:
    args = _arguments()
    every = parts(args.shared, quick=args.quick)
    chosen = [p for p in every if not args.part or p.name in args.part]
    if not chosen:
        raise SystemExit(f"no such part; choose from {', '.join(p.name for p in every)}")
    specs = _unique(chosen)
    with ProcessPoolExecutor(args.jobs, initializer=use, initargs=(args.weights,)) as pool:
        heard = dict(zip(map(str, specs), pool.map(partial(hear, args.shared), specs), strict=True))
        for part in chosen:
            _print_part(part, heard)
        _print_speed(list(heard.values()))
        slow = [s for s in specs if s.maker == "spliced"][:: max(1, len(specs) // DELAY_TAKES)]
        _print_delay(list(pool.map(partial(_delays, args.shared), slow)))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="How well the coach hears.")
    parser.add_argument("--quick", action="store_true", help="fewer takes")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--part", action="append", help="only this part (may be repeated)")
    parser.add_argument("--weights", help="other weights of the follower (.npz)")
    parser.add_argument("--shared", default=str(SHARED), help="folder of samples and recordings")
    return parser.parse_args()


def _unique(chosen: Sequence[Part]) -> list[Spec]:
    """Each take once, though several parts may show it."""
    found = {str(s): s for part in chosen for specs in part.takes.values() for s in specs}
    return list(found.values())


def hear(shared: str, spec: Spec) -> Heard:
    """One take heard by every method."""
    take = make(shared, spec)
    made = {}
    for name, predictor in COMPARED.items():
        began_s = time.perf_counter()
        result = predictor(take)
        made[name] = scored(take, result, time.perf_counter() - began_s)
    return made


def _delays(shared: str, spec: Spec) -> Delays:
    return delays_of(make(shared, spec))


def _print_part(part: Part, heard: dict[str, Heard]) -> None:
    rows = {name: [heard[str(s)] for s in specs] for name, specs in part.takes.items()}
    if len(rows) > 1:
        rows["all"] = [h for specs in list(rows.values()) for h in specs]
    print(f"\n{part.title} [{part.name}]", flush=True)
    _print_attacks(part, rows)
    if "verdicts" in part.shows:
        _print_verdicts(rows, with_recall="recall" in part.shows)
    if "lags" in part.shows:
        _print_lags(rows)


def _print_attacks(part: Part, rows: dict[str, list[Heard]]) -> None:
    print(
        f"  {'':14} {'':15} {'notes':>5}  {'F10':>5} {'F25':>5} {'hit10':>5} {'hit25':>5} "
        f"{'found':>5}"
        + "".join(
            f"   {name:>12} {'bias':>6}" for name in ("med / p95", *(r[0] for r in REGISTERS))
        )
    )
    for row, takes in rows.items():
        for name in COMPARED:
            one = timing(
                [t[name] for t in takes], keep=KEEPS[part.keep], per_take_bias=name == "null"
            )
            print(f"  {row:14} {name:15} {_attack_cells(one)}")
            row = ""


def _attack_cells(one: Timing) -> str:
    shares = " ".join(_share(v) for v in (one.f10, one.f25, one.hit10, one.hit25, one.found))
    cells = [(one.median_ms, one.p95_ms, one.bias_ms)]
    cells += [(m, p, one.biases_ms[name]) for name, (m, p, _) in one.registers.items()]
    return f"{one.count:5d}  {shares}   " + "   ".join(
        f"{middle:5.1f} /{p95:5.1f} {bias:+6.1f}" for middle, p95, bias in cells
    )


def _share(value: float) -> str:
    return f"{value:5.3f}"


def _print_verdicts(rows: dict[str, list[Heard]], *, with_recall: bool) -> None:
    for row, takes in rows.items():
        for name in ("coach", "hand-made", "null"):
            one = verdicts(t[name] for t in takes)
            recall = "  ".join(f"{k} {v:.2f} of {one.counts[k]}" for k, v in one.recall.items())
            print(
                f"  {row:14} {name:15} right {one.right:.3f}  false alarms {one.false_alarms:.4f}  "
                f"unsure {one.unsure:.3f}  extra {one.extra_recall:.2f}"
                + (f"  recall: {recall}" if with_recall else "")
            )
            row = ""
    worst = verdicts(t["coach"] for t in list(rows.values())[-1]).confused
    most = sorted(worst.items(), key=lambda pair: -pair[1])[:8]
    print("  taken for: " + ", ".join(f"{a} for {b} {n}" for (a, b), n in most))


def _print_lags(rows: dict[str, list[Heard]]) -> None:
    for row, takes in rows.items():
        for name in ("coach", "hand-made", "null"):
            middle, p95, told, count = lags(t[name] for t in takes)
            print(
                f"  {row:14} {name:15} lags {count:4d}  told {told:.3f}  "
                f"error {middle:.1f} / {p95:.1f} ms"
            )
            row = ""
        curve = lags_told(t["coach"] for t in takes)
        print(
            f"  {'':14} {'':15} found / made up: "
            + "  ".join(f"{c.from_ms:.0f} ms {c.found:.2f} / {c.false:.3f}" for c in curve)
            + f"  (of {curve[0].lagging} and {curve[0].steady})"
        )


def _print_speed(heard: Sequence[Heard]) -> None:
    print("\nspeed, times real time")
    for name in COMPARED:
        sound_s = sum(h[name].sound_s for h in heard)
        print(f"  {name:15} {sound_s / max(1e-9, sum(h[name].seconds for h in heard)):8.0f}")


def _print_delay(delays: Sequence[Delays]) -> None:
    sealed = [ms for some in delays for ms in some.sealed_ms]
    glimpsed = [ms for some in delays for ms in some.glimpsed_ms]
    wrong = sum(some.wrong for some in delays)
    if sealed:
        print(f"\nfrom a note's attack to its verdict, ms: {_spread(sealed)}")
    if glimpsed:
        early = sum(ms <= GLIMPSED_BY_MS for ms in glimpsed) / len(glimpsed)
        print(
            f"to the first sight of it, ms: {_spread(glimpsed)}, {early:.2f} of them within "
            f"{GLIMPSED_BY_MS:.0f}; sights that were wrong: {wrong / (wrong + len(glimpsed)):.3f}"
        )


def _spread(values: Sequence[float]) -> str:
    every = sorted(values)
    p95 = every[int(0.95 * (len(every) - 1))]
    return (
        f"median {median(every):.0f}, 95 % {p95:.0f}, longest {every[-1]:.0f} ({len(every)} notes)"
    )


if __name__ == "__main__":
    main()
