"""The ruler: how far an attack lay from its place.  Left is early, right is late.

    ·······─────┼─────··▶····       the click is the cross, the line around it what counts as clean

The scale is the same for every note and every tempo, so that the eye can learn it.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from coach.core.rules import Rules, tolerance_frames
from coach.core.take import Verdict
from coach.core.timeline import Due
from coach.core.verdicts import intervals_frames
from coach.screen.style import DIM, MARKS
from coach.screen.words import deviation_ms

REACH_MS = 50.0


def tolerances_ms(dues: Sequence[Due], rules: Rules, rate: int) -> list[float]:
    """For each due note how far its attack may lie from its place, in ms."""
    intervals = intervals_frames([d.frame for d in dues], [d.length_frames for d in dues])
    return [tolerance_frames(rules, interval, rate) * 1000 / rate for interval in intervals]


def ruler(verdict: Verdict, rate: int, tolerance_ms: float, width: int) -> Text:
    """One ruler, `width` cells wide (an odd number)."""
    half = width // 2
    inside = round(min(1.0, tolerance_ms / REACH_MS) * half)
    cells = "·" * (half - inside) + "─" * inside + "┼" + "─" * inside + "·" * (half - inside)
    line = Text(cells, style=DIM, no_wrap=True)
    off = deviation_ms(verdict, rate)
    if off is None:
        return line
    mark = MARKS[verdict.kind]
    place = half + round(max(-1.0, min(1.0, off / REACH_MS)) * half)
    return Text.assemble(line[:place], (mark.shape, mark.style), line[place + 1 :], no_wrap=True)


def scale_line(width: int) -> str:
    """The heading above rulers of this width."""
    middle = "click" if width >= 17 else ""
    return "early" + middle.center(width - 10) + " late"


def odd(width: int) -> int:
    """The largest odd number up to `width`: a ruler has a middle."""
    return width - 1 + width % 2
