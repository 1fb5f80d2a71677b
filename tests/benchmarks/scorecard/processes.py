"""Work in a process of its own, so that its memory and its threads are its own."""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import astuple
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

T = TypeVar("T")

ROOT = Path(__file__).resolve().parents[3]
SHARED = ROOT.parent / "shared"
HERE = "tests.benchmarks.scorecard"
# One thread for everybody: seconds of work can be compared on a machine that does other things.
ALONE = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"), "1"
)


def environment(**more: str) -> dict[str, str]:
    """That of this process, with one thread a library."""
    return {**os.environ, **ALONE, **more}


def apart(module: str, function: str, **given: Any) -> tuple[Any, float]:
    """(What a function of a module beside this one returns, the peak memory of its process in MB).
    Arguments and result go through JSON, figures as tuples."""
    words = [sys.executable, "-m", f"{HERE}.processes", module, function, json.dumps(given)]
    done = subprocess.run(words, cwd=ROOT, env=environment(), stdout=subprocess.PIPE, check=True)
    result, peak_mb = json.loads(done.stdout.decode().splitlines()[-1])
    return result, peak_mb


def busy(call: Callable[[], T]) -> tuple[T, float]:
    """(Result, seconds of work): time that others take from the machine is not counted, nor what
    it costs to look through what libraries imported before have left in memory."""
    gc.collect()
    gc.freeze()
    begun = time.process_time()
    result = call()
    seconds = time.process_time() - begun
    gc.unfreeze()
    return result, seconds


def least_busy(call: Callable[[], T], times: int = 3) -> tuple[T, float]:
    """(Result, the least seconds of work of so many times)."""
    every = [busy(call) for _ in range(times)]
    return every[0][0], min(seconds for _, seconds in every)


def peak_mb() -> float:
    """The peak memory of this process alone; ru_maxrss would take over the parent's."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    [line] = [line for line in status.splitlines() if line.startswith("VmHWM")]
    return int(line.split()[1]) / 1024


def main() -> None:
    module, function, given = sys.argv[1:]
    result = getattr(import_module(f"{HERE}.{module}"), function)(**json.loads(given))
    print("\n" + json.dumps([result, peak_mb()], default=astuple))


if __name__ == "__main__":
    main()
