"""The tempo path: the tempi of the takes as a row of numbers under a small rising line."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from coach.core.gate import Pace
from coach.core.view import TakeLine
from coach.screen.page import line
from coach.screen.style import BOLD, DIM, GOOD

_STEPS = "▁▂▃▄▅▆▇█"
_CELL = 7


def path_lines(path: Sequence[TakeLine], pace: Pace, width: int, *, next_too: bool) -> list[Text]:
    """Two lines: heights between the lowest and the highest tempo, and the numbers.

    A plus marks a take that passed the gate, a minus one that did not (circles are verdicts);
    `next_too` adds the tempo that comes now.  The latest takes that fit into `width` are shown.
    """
    room = (width - 12) // _CELL
    tempi = [(taken.tempo_bpm, taken.passed) for taken in path]
    shown: list[tuple[float, bool | None]] = [*tempi, *([(pace.tempo_bpm, None)] * next_too)]
    shown = shown[-max(1, room) :]
    if not shown:
        return []
    low = min(tempo for tempo, _ in shown)
    span = max(tempo for tempo, _ in shown) - low or 1.0
    heights = [_STEPS[round((tempo - low) / span * 7)] for tempo, _ in shown]
    rising = "".join(f"{step * 5:<{_CELL}}" for step in heights)
    numbers = [_number(tempo, passed) for tempo, passed in shown]
    return [line((" " * 7 + rising, DIM)), line("tempo  ", *numbers)]


def _number(tempo_bpm: float, passed: bool | None) -> Text:
    if passed is None:
        return Text(f"{tempo_bpm:g}".ljust(_CELL), style=BOLD)
    number = Text(f"{tempo_bpm:g}")
    number.append("+" if passed else "-", style=GOOD if passed else BOLD)
    number.pad_right(_CELL - number.cell_len)
    return number
