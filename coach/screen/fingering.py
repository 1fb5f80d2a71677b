"""Fingering plans on paper or terminal: a strip to play from, then why."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from rich.console import Console
from rich.text import Text

from coach.core.fingering.problem import FingeringPlan
from coach.core.fingering.told import Told, ToldNote
from coach.screen.style import BOLD, DIM, NOW
from coach.screen.words import printable

MOST_TERMS = 5
TERM_WORDS = {
    "fingers": "fingers moved",
    "exchanges": "exchanges of fingers",
    "side_changes": "changes of side",
    "length_added": "tube suddenly longer",
    "partials_slurred": "partials crossed in slurs",
    "slide": "way of the arm",
    "same_shape": "other shape in a figure",
    "measured": "moves as you played them",
    "second_third": "2 and 3 together",
    "ring_finger": "ring finger",
    "intonation": "out of tune",
    "narrow_partials": "near partials",
    "clarity": "long tube, tongued fast",
    "rare_partials": "partials out of the chart",
    "custom": "not as in the chart",
    "other_side": "not on the chart's side",
    "relearn": "not as the fingers know it",
}


def show_plans(told: Told, drill: str, console: Console | None = None) -> None:
    """Every plan of a drill (its name or file), the differences of the later ones marked."""
    console = console or Console()
    heading = f"{told.passage.title}, {told.instrument.title}, {told.tempo_bpm:g} a minute"
    console.print(Text(printable(heading), style=BOLD))
    for number, plan in enumerate(told.plans):
        _show_plan(told, plan, number, console)
    if told.close:
        for sentence in _trial(told.close, drill):
            console.print(Text("\n".join(wrap(printable(sentence), console.width))))


def _trial(close: Sequence[int], drill: str) -> list[str]:
    """How to settle what is too close to be settled on paper."""
    others = " and ".join(f"plan {k + 1}" for k in close)
    ways = [f"coach drill {drill} --fingering {k + 1}" for k in (0, *close)]
    return [
        f"Plan 1 and {others} are close: try both, some takes each at the same tempo, and keep "
        "the one with more clean notes:",
        *(f"  {way}" for way in ways),
    ]


def _show_plan(told: Told, plan: FingeringPlan, number: int, console: Console) -> None:
    console.print()
    console.print(Text(f"plan {number + 1}, cost {plan.cost:.1f}", style=NOW))
    unlike = set(told.unlike(plan))
    rows = list(told.rows(plan))
    for line in _strips(rows, unlike, console.width):
        console.print(line)
    for why in _why([row for row in rows if number == 0 or row.index in unlike]):
        console.print(_indented(why, console.width))
    console.print(_indented(_dearest(told.totals(plan)), console.width), style=DIM)


def _dearest(totals: dict[str, float]) -> str:
    """What costs most: "cost: fingers moved 3.1, ..."."""
    spent = sorted(totals.items(), key=lambda pair: -pair[1])[:MOST_TERMS]
    words = (f"{TERM_WORDS[name]} {cost:.1f}" for name, cost in spent if cost >= 0.05)
    return "cost: " + (", ".join(words) or "nothing")


def _indented(words: str, width: int) -> Text:
    lines = wrap(words, width, initial_indent="  ", subsequent_indent="    ")
    return Text("\n".join(lines))


def _strips(rows: Sequence[ToldNote], unlike: set[int], width: int) -> list[Text]:
    """Notes and, under them, fingerings, in as many lines as needed; * marks a difference from the
    first plan."""
    cell = max(len(row.written) for row in rows) + 2
    cell = max(cell, max(len(row.fingering) for row in rows) + 2)
    per_line = max(1, (width - 2) // cell)
    lines: list[Text] = []
    for start in range(0, len(rows), per_line):
        part = rows[start : start + per_line]
        notes = "".join(row.written.ljust(cell) for row in part)
        lines.append(Text("  " + notes.rstrip(), style=DIM))
        line = Text("  ")
        for row in part:
            marked = row.index in unlike
            text = row.fingering + ("*" if marked else "")
            line.append(text.ljust(cell), style=NOW if marked else BOLD)
        line.rstrip()
        lines.append(line)
    return lines


def _why(rows: Sequence[ToldNote]) -> list[str]:
    """A line for each reason with its notes: "notes 2-4, 9: stays on the F side"."""
    places: dict[str, list[int]] = {}
    for row in rows:
        if row.reason:
            places.setdefault(row.reason, []).append(row.index + 1)
    return [
        f"{'note' if len(numbers) == 1 else 'notes'} {_ranges(numbers)}: {reason}"
        for reason, numbers in places.items()
    ]


def _ranges(numbers: Sequence[int]) -> str:
    """ "2-4, 9" for 2, 3, 4 and 9."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)
