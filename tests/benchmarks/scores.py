"""Reading scores: what every shared file gives, speed and memory beside music21, and differences.

    python -m tests.benchmarks.scores            everything (some minutes: music21)
    python -m tests.benchmarks.scores largest    only the largest movement, whole, in both readers

Each reader has a process of its own, so that the memory is its own.
"""

from __future__ import annotations

import subprocess
import sys
import time
import warnings
from collections import Counter
from pathlib import Path
from typing import Any

from tests.bed.mutated import read_whole
from tests.conftest import SHARED
from tests.files.test_scorefile import NOT_OURS, compared
from tests.oracle.by_music21 import score_xml

SCORES = SHARED / "scores"


def main() -> None:
    movements = sorted((SCORES / "orchestra").glob("*.mxl"), key=lambda p: len(score_xml(p)))
    if sys.argv[1:] != ["largest"]:
        counts()
        differences(movements)
    largest = movements[-1]
    size = len(score_xml(largest)) / 1e6
    print(f"\nthe largest movement, {largest.stem}, {size:.1f} MB unpacked, all parts:")
    ours, theirs = (measured(largest, reader) for reader in ("coach", "music21"))
    for name, (seconds, megabytes) in (("coach", ours), ("music21", theirs)):
        print(f"  {name:8} {seconds:6.1f} s, {megabytes:5.0f} MB at its peak")
    print(f"  {theirs[0] / ours[0]:.0f} times as fast, {theirs[1] / ours[1]:.1f} times less memory")


def counts() -> None:
    found: dict[str, Counter[str]] = {}
    for path in sorted(SCORES.rglob("*")):
        if path.suffix in (".xml", ".musicxml", ".mxl", ".mid"):
            found.setdefault(path.parent.name, Counter())[read_whole(path.read_bytes())] += 1
    for name, one in found.items():
        print(f"{name}: {dict(one)}")


def differences(movements: list[Path]) -> None:
    """Brass parts in which a note's onset, length or pitch is not as music21 has it."""
    for path in movements:
        differ, order = compared(path)
        known = [part for part in differ if (path.stem, part) in NOT_OURS]
        new = sorted(set(differ) - set(known))
        print(f"{path.stem}: known differences {known}, others {new}, same order {order}")


def measured(path: Path, reader: str) -> tuple[float, float]:
    """Seconds and the peak memory in MB."""
    words = [sys.executable, "-m", "tests.benchmarks.scores", reader, str(path)]
    told = subprocess.run(words, capture_output=True, text=True, check=True).stdout.split()
    return float(told[-2]), float(told[-1])


def one(reader: str, path: Path) -> None:
    warnings.simplefilter("ignore")
    if reader == "coach":
        from coach.files.scorefile import read_score as read
    else:
        from music21.converter import parse

        def read(path: Path) -> Any:
            # Not out of its cache of files read before.
            return parse(path, forceSource=True, storePickle=False)

    start = time.perf_counter()
    kept = read(path)
    seconds = time.perf_counter() - start
    print(len(kept.parts), seconds, _peak_mb())


def _peak_mb() -> float:
    """The peak memory of this process alone; ru_maxrss would take over the parent's."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    [line] = [line for line in status.splitlines() if line.startswith("VmHWM")]
    return int(line.split()[1]) / 1024


if __name__ == "__main__":
    if len(sys.argv) == 3:
        one(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
