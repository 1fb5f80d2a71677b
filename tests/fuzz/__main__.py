"""Runs the targets for minutes, and tells what came of them.

    python -m tests.fuzz --minutes 10
    python -m tests.fuzz --target drill --seed 4711 --count 1      one failure once more

Seeds go up from `--seed` (else from one that differs every time, and is told).  The exit status is
1 if anything failed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from tests.fuzz.targets import TARGETS, example


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--target", choices=TARGETS, action="append")
    parser.add_argument("--seed", type=int, default=time.time_ns() % 10**9)
    parser.add_argument("--count", type=int, help="so many of each, whatever time it takes")
    args = parser.parse_args()
    names = args.target or list(TARGETS)
    print(f"from seed {args.seed}", flush=True)
    failed = 0
    for name in names:
        failed += _run(name, args.seed, 60 * args.minutes / len(names), args.count)
    return int(failed > 0)


def _run(name: str, seed: int, seconds: float, count: int | None) -> int:
    """How many failed."""
    came: Counter[str] = Counter()
    slowest, failed, began = (0.0, seed), 0, time.perf_counter()
    while sum(came.values()) < count if count else time.perf_counter() - began < seconds:
        start = time.perf_counter()
        with tempfile.TemporaryDirectory(prefix="coach-fuzz-") as folder:
            try:
                came[example(name, seed, Path(folder))] += 1
            except Exception:
                came["FAILED"] += 1
                failed += 1
                print(f"--target {name} --seed {seed} --count 1", file=sys.stderr)
                traceback.print_exc()
        slowest = max(slowest, (time.perf_counter() - start, seed))
        seed += 1
    told = ", ".join(f"{what} {many}" for what, many in came.most_common())
    print(
        f"{name}: {sum(came.values())} inputs, {failed} failed, slowest {slowest[0]:.2f} s"
        f" (seed {slowest[1]}): {told}",
        flush=True,
    )
    return failed


if __name__ == "__main__":
    sys.exit(main())
