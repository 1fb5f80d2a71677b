"""The fingering chart of an instrument: every note, what is usual, and what else gives it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from coach.core.fingering.candidates import Candidate
from coach.core.naming import note_name as note_name
from coach.screen.style import BOLD, DIM

NOTHING = "–"


@dataclass(frozen=True, slots=True)
class ChartRow:
    """A note by its written and sounding MIDI numbers, and its fingerings, the usual one first."""

    written: int
    sounding: int
    found: tuple[Candidate, ...]


def chart_table(title: str, rows: Sequence[ChartRow], *, written: bool, sounding: bool) -> Table:
    """The chart as a table; each fingering with its partial and its cents."""
    table = Table(title=Text(title), box=SIMPLE_HEAD, title_justify="left", title_style=BOLD)
    for heading, shown in (("written", written), ("sounds", sounding)):
        if shown:
            table.add_column(heading)
    table.add_column("usual", style=BOLD)
    table.add_column("partial", justify="right")
    table.add_column("cents", justify="right")
    table.add_column("others: fingering, partial, cents", style=DIM)
    for row in rows:
        table.add_row(*_names(row, written, sounding), *_usual(row), _others(row))
    return table


def chart_lines(
    title: str, rows: Sequence[ChartRow], *, written: bool, sounding: bool
) -> Iterator[str]:
    """The chart as lines of plain text, one a note."""
    yield title
    for row in rows:
        names = " sounding ".join(_names(row, written, sounding))
        found = "; ".join(_line(candidate) for candidate in row.found) or "none"
        yield f"{names}: {found}"


def _names(row: ChartRow, written: bool, sounding: bool) -> list[str]:
    shown = ((row.written, written), (row.sounding, sounding))
    return [note_name(midi) for midi, wanted in shown if wanted]


def _usual(row: ChartRow) -> tuple[str, str, str]:
    if not row.found:
        return NOTHING, "", ""
    usual = row.found[0]
    return usual.fingering, str(usual.partial), _cents(usual)


def _others(row: ChartRow) -> Text:
    # No break inside an entry: it would part a fingering from its figures.
    entries = (f"{c.fingering}\u00a0{c.partial}\u00a0{_cents(c)}" for c in row.found[1:])
    return Text("   ".join(entries))


def _line(candidate: Candidate) -> str:
    cents = _cents(candidate)
    return f"{candidate.fingering} partial {candidate.partial} {cents} cents"


def _cents(candidate: Candidate) -> str:
    cents = round(candidate.cents)
    return f"{cents:+d}" if cents else "0"
