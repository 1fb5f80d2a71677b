"""The syllables of a passage as a table: note by note, with the reason for every change."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.core.passage import Note, Passage, bar_index
from coach.core.tonguing import Spoken
from coach.screen.style import BOLD, DIM
from coach.screen.words import Spelling, printable

REST_WORDS = (
    "A tired tongue gets worse: rest for as long as you played, and stop when tongue, lips or jaw"
    " tire or hurt. A teacher or doctor knows better than a program."
)


def tonguing_table(
    passage: Passage, spoken: Sequence[Spoken], spelling: Spelling, heading: Sequence[str]
) -> RenderableType:
    """`heading`: the title, then lines on how it is played; bars and beats count from 1."""
    table = Table(box=SIMPLE_HEAD, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    table.add_column("  bar", justify="right", no_wrap=True)
    for name in ("beat", "note", "syllable"):
        table.add_column(name, no_wrap=True)
    table.add_column("why")
    last_bar = 0
    for note, said in zip(passage.notes, spoken, strict=True):
        bar, beat = _place(note, passage)
        where = str(bar) if bar != last_bar else ""
        table.add_row(where, beat, spelling.name(note.pitch), _said(said), Text(said.reason))
        last_bar = bar
    title, *lines = (Text(f"  {printable(line)}") for line in heading)
    title.stylize(BOLD)
    rest = Padding(Text(REST_WORDS, style=DIM), (1, 0, 0, 2))
    return Group(title, *lines, Text(), table, rest)


def _said(spoken: Spoken) -> Text:
    return Text("slur", style=DIM) if spoken.syllable is None else Text(spoken.syllable, style=BOLD)


def _place(note: Note, passage: Passage) -> tuple[int, str]:
    """The bar, and the click in it with what has passed of it: "2" or "2 + 1/4"."""
    number = bar_index(passage.bars, note.start_beats)
    bar = passage.bars[number]
    click, passed = divmod((note.start_beats - bar.start_beats) / bar.pulse_beats, Fraction(1))
    return passage.first_bar + number, f"{click + 1}{f' + {passed}' if passed else ''}"
