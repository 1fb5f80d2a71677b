"""A million spoiled score files: how many give notes, how many one clear error, and nothing else.

    python -m tests.benchmarks.fuzz_scores [COUNT] [SEED]

Prints a line for each reader; anything but notes or a clear error is kept in `spoiled-*.bin`, with
its traceback printed.
"""

from __future__ import annotations

import sys
import time
import traceback
from collections import Counter
from pathlib import Path
from random import Random

from tests.bed.mutated import inputs, read_whole, seeds
from tests.conftest import SHARED


def main(count: int, seed: int) -> int:
    scores = SHARED / "scores"
    failed = 0
    for name, files in seeds(scores if scores.is_dir() else None).items():
        random = Random(f"{seed}-{name}")
        found: Counter[str] = Counter()
        slowest, began = 0.0, time.perf_counter()
        for data, _ in zip(inputs(files, random), range(count // 3), strict=False):
            start = time.perf_counter()
            try:
                found[read_whole(data)] += 1
            except Exception:
                found["something else"] += 1
                failed += 1
                Path(f"spoiled-{name}-{failed}.bin").write_bytes(data)
                traceback.print_exc()
            slowest = max(slowest, time.perf_counter() - start)
        took = time.perf_counter() - began
        print(f"{name}: {dict(found)} in {took:.0f} s, the slowest {slowest:.2f} s", flush=True)
    return failed


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [1_000_000, 1][len(words) :])) > 0)
