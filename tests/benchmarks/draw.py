"""How long one picture takes: `python -m tests.benchmarks.draw`.  Prints, asserts nothing.

Drawn through rich's Live onto a stream in memory, every picture different from the one before.
"""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from dataclasses import replace

from rich.console import Console

from coach.core.view import View
from coach.screen.live import LiveScreen
from tests.screen import views

PICTURES = 200
SIZES = ((80, 24), (120, 40), (200, 60))


def _playing() -> Iterator[View]:
    base = views.playing(9, 140, bare=False)
    while True:
        for now in range(1, len(base.verdicts)):
            yield replace(base, now=now, verdicts=base.verdicts[:now])


def _rest() -> Iterator[View]:
    base = views.rest(9)
    tenths = 0
    while True:
        tenths += 1
        yield replace(base, rest_s=tenths)


def _table() -> Iterator[View]:
    """The table made anew for every picture, as at the end of a take."""
    base = views.rest(9)
    number = 0
    while True:
        number += 1
        yield replace(base, advice=f"{base.advice} {number}")


def measure(pictures: Iterator[View], width: int, height: int) -> tuple[float, float, int]:
    """Median and largest ms a picture, and bytes a picture."""
    out = io.StringIO()
    console = Console(
        file=out, width=width, height=height, force_terminal=True, color_system="truecolor"
    )
    times = []
    with LiveScreen(console) as screen:
        screen.draw(next(pictures))
        for _ in range(PICTURES):
            view = next(pictures)
            start = time.perf_counter()
            screen.draw(view)
            times.append((time.perf_counter() - start) * 1000)
    return sorted(times)[PICTURES // 2], max(times), len(out.getvalue()) // PICTURES


def main() -> None:
    print(f"{'picture':<22} {'size':>8} {'median ms':>10} {'worst ms':>9} {'bytes':>7}")
    for name, make in (("playing", _playing), ("rest", _rest), ("table made anew", _table)):
        for width, height in SIZES:
            middle, worst, size = measure(make(), width, height)
            print(f"{name:<22} {width:>4}x{height:<3} {middle:>10.2f} {worst:>9.2f} {size:>7}")


if __name__ == "__main__":
    main()
