"""How many frames each engine loses while Python is busy: `python -m tests.benchmarks.lost_frames`.

In the virtual studio, in real time (argument: seconds a run, default 60; 300 for five minutes).
The load is a thread of pure Python that never lets go of the lock by itself.
"""

from __future__ import annotations

import json
import sys

from tests.studio.conftest import Studio


def run(engine: str, block_frames: int, seconds: float, *, busy: bool) -> str:
    studio = Studio()
    try:
        settings = {"engine": engine, "block_frames": block_frames}
        job = {"settings": settings, "seconds": seconds, "busy": busy}
        side = studio.start("-m", "tests.studio.side", "count", json.dumps(job))
        told, trouble = side.communicate()
        if side.returncode:
            return trouble.splitlines()[-1]
        counted = json.loads(told)
        return f"{counted['lost']:8d} frames lost of {counted['frames']}, {counted['gaps']} gaps"
    finally:
        studio.close()


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    for engine in ("c", "python"):
        for busy in (False, True):
            state = "busy" if busy else "idle"
            print(f"{engine:7} {state}: {run(engine, 256, seconds, busy=busy)}", flush=True)


if __name__ == "__main__":
    main()
