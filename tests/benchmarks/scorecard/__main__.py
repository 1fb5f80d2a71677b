"""The whole scorecard in one run.

    python -m tests.benchmarks.scorecard [--quick] [--write]

Ours and theirs are measured on the same takes and files, one after the other.  Above a ratio of 1
the coach does better.  `--quick`: fewer of everything; `--write`: the table is kept in
tests/benchmarks/scorecard.md, where it also says how each row is counted.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from datetime import date
from platform import python_version
from resource import RUSAGE_CHILDREN, getrusage

from tests.benchmarks.scorecard.processes import SHARED, apart
from tests.benchmarks.scorecard.rows import SECTIONS, Figure
from tests.benchmarks.scorecard.table import PAGE, rewritten, table


def main() -> None:
    parser = argparse.ArgumentParser(
        "python -m tests.benchmarks.scorecard",
        description="What the coach does beside other libraries.",
    )
    parser.add_argument("--quick", action="store_true", help="fewer of everything")
    parser.add_argument("--write", action="store_true", help=f"keep the table in {PAGE.name}")
    args = parser.parse_args()
    if not SHARED.is_dir():
        raise SystemExit(f"the recordings and scores are not there: {SHARED.name}")
    begun, busy_before = time.time(), os.getloadavg()[1]
    measured = {}
    for section in SECTIONS:
        print(f"{section.title} ...", file=sys.stderr, flush=True)
        told, _ = apart(section.module, "measured", quick=args.quick)
        measured[section.module] = {key: Figure(*figure) for key, figure in told.items()}
    work = getrusage(RUSAGE_CHILDREN)
    minutes = [seconds / 60 for seconds in (time.time() - begun, work.ru_utime + work.ru_stime)]
    heading = _heading(args.quick, *minutes, busy_before)
    text = table(SECTIONS, measured)
    print(f"{heading}\n\n{text}")
    if args.write:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(rewritten(page, heading, text), encoding="utf-8")


def _heading(quick: bool, minutes: float, worked_minutes: float, busy_before: float) -> str:
    """Which run it was, and how busy the machine."""
    return (
        f"Measured on {date.today().isoformat()}, a {'quick' if quick else 'full'} run of "
        f"{minutes:.1f} minutes ({worked_minutes:.1f} of work), Python {python_version()}, "
        f"{os.cpu_count()} cores; {busy_before:.1f} other processes wanted a core when it began."
    )


if __name__ == "__main__":
    main()
