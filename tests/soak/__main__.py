"""Hours of practice, watched: `python -m tests.soak [--hours 8] [--speed 20] | --card [--hours 1]`.

Without --card a simulated player practises in one process, many sessions after one long one, so
many times faster than real time.  With --card one session runs in real time on the virtual sound
card (tests/studio), a player in another process.  Memory, open files and threads are printed as
they go, then how they went, and whether the book is whole.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.soak.card import an_hour
from tests.soak.kept import checked
from tests.soak.watch import Held, growth, watched

ROOT = Path(__file__).resolve().parents[2]


def simulated(hours: float, speed: float, every_s: float, long_takes: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "sessions"
        with log.open("w") as out:
            life = subprocess.Popen(
                [sys.executable, "-m", "tests.soak.life", str(hours), str(speed), str(long_takes)],
                cwd=ROOT,
                env={**os.environ, "COACH_HOME": folder, "PYTHONPATH": str(ROOT)},
                stdout=out,
                text=True,
            )
            seen = watched(life, every_s, show)
        told = [json.loads(line) for line in log.read_text().splitlines()]
        came = result(told, Path(folder))
    print(f"{came}; {growth(seen)}; exit status {life.returncode}")
    return int(life.returncode)


def result(told: list[dict[str, Any]], home: Path) -> str:
    """What came of the sessions; the output of the one that failed, if one did."""
    failed = [one["said"] for one in told if one["status"]]
    takes = sum(one["takes"] for one in told)
    lost = sum(one["lost"] for one in told)
    return (
        f"{told[-1]['lived_s'] / 3600:.2f} h lived, {len(told)} sessions, {lost} frames lost; "
        f"{checked(home, takes)}{''.join(failed)}"
    )


def show(now: Held) -> None:
    print(
        f"{now.at_s:7.0f} s  {now.memory_mb:6.1f} MB  {now.files} files  {now.threads} threads",
        flush=True,
    )


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.soak")
    parser.add_argument("--card", action="store_true", help="on the virtual sound card")
    parser.add_argument("--hours", type=float, help="8, with --card 1")
    parser.add_argument("--speed", type=float, default=20.0)
    parser.add_argument("--every", type=float, default=30.0, metavar="S", help="look so often")
    parser.add_argument(
        "--long", type=int, default=60, metavar="TAKES", help="of the first session"
    )
    args = parser.parse_args()
    if not args.card:
        return simulated(args.hours or 8.0, args.speed, args.every, args.long)
    seen, came = an_hour(args.hours or 1.0, args.every, show)
    print(f"{came}; {growth(seen)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
