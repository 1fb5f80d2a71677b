"""Fingering plans on paper or terminal: a strip to play from, then why."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from coach.core.fingering.problem import Plan
from coach.core.fingering.told import Row, Told
from coach.screen.style import BOLD, DIM, NOW

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


def show_plans(told: Told, console: Console | None = None) -> None:
    """Every plan, the differences of the later ones marked."""
    console = console or Console()
    title = told.passage.title or "passage"
    console.print(
        Text(f"{title}, {told.instrument.title}, {told.tempo_bpm:g} a minute", style=BOLD)
    )
    for number, plan in enumerate(told.plans):
        _show_plan(told, plan, number, console)
    if told.close:
        others = " and ".join(f"plan {k + 1}" for k in told.close)
        console.print(
            f"Plan 1 and {others} are close: try both, some takes each at the same tempo, and keep "
            "the one with more clean notes."
        )


def _show_plan(told: Told, plan: Plan, number: int, console: Console) -> None:
    console.print()
    console.print(Text(f"plan {number + 1}, cost {plan.cost:.1f}", style=NOW))
    unlike = set(told.unlike(plan))
    rows = list(told.rows(plan))
    for line in _strips(rows, unlike, console.width):
        console.print(line)
    why = [row for row in rows if row.reason and (number == 0 or row.index in unlike)]
    if why:
        console.print(_why(why))
    spent = sorted(told.totals(plan).items(), key=lambda pair: -pair[1])
    words = ", ".join(f"{TERM_WORDS[name]} {cost:.1f}" for name, cost in spent if cost >= 0.05)
    console.print(Text(f"  {words}", style=DIM))


def _strips(rows: Sequence[Row], unlike: set[int], width: int) -> list[Text]:
    """Notes and, under them, fingerings, in as many lines as needed; * marks a difference from the
    first plan."""
    cell = max(len(row.written) for row in rows) + 2
    cell = max(cell, max(len(row.fingering) for row in rows) + 2)
    per_line = max(1, (width - 2) // cell)
    lines: list[Text] = []
    for start in range(0, len(rows), per_line):
        part = rows[start : start + per_line]
        notes = "".join(row.written.ljust(cell) for row in part)
        lines.append(Text("  " + notes, style=DIM))
        line = Text("  ")
        for row in part:
            marked = row.index in unlike
            text = row.fingering + ("*" if marked else "")
            line.append(text.ljust(cell), style=NOW if marked else BOLD)
        lines.append(line)
    return lines


def _why(rows: Sequence[Row]) -> Table:
    table = Table.grid(padding=(0, 2))
    for row in rows:
        table.add_row(f"  note {row.index + 1}", row.written, row.fingering, row.reason)
    return table
