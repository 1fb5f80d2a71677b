"""Pages of other commands: the end of a session, the drills, the devices, the sound check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.core.exercise import Drill
from coach.core.view import View
from coach.screen.page import Lines
from coach.screen.path import path_lines
from coach.screen.style import BOLD, DIM
from coach.screen.words import printable, summary_facts


def summary(view: View, *, reason: str = "", width: int = 80) -> RenderableType:
    """The end of a session: takes, the way of the tempo, the best clean tempo, what to work on."""
    title = Text(f"  {printable(view.title)}", style=BOLD)
    graph = Lines(tuple(path_lines(view.path, view.pace, width, next_too=False)))
    return Group(title, _facts(summary_facts(view, reason)), Text(), graph)


def _facts(facts: Sequence[tuple[str, str]]) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(style=DIM, no_wrap=True)
    table.add_column()
    for name, value in facts:
        table.add_row(Text(f"  {name}"), Text(printable(value)))
    return table


def _listing(*headings: str) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False)
    for heading in headings:
        table.add_column(heading, no_wrap=heading in ("name", "tempo", "kind"))
    return table


class DrillLine(Protocol):
    """What the list of drills tells of one; `problem` is why it cannot be played, or empty."""

    @property
    def name(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def about(self) -> str: ...
    @property
    def from_bpm(self) -> float: ...
    @property
    def to_bpm(self) -> float: ...
    @property
    def problem(self) -> str: ...


def drills_table(drills: Sequence[DrillLine]) -> RenderableType:
    """What there is to practise, a drill a line."""
    if not drills:
        return Text("  There are no drills.")
    table = _listing("name", "tempo", "what it is")
    for drill in drills:
        tempo = "" if drill.problem else _tempo(drill)
        words = printable(drill.problem or drill.title)
        table.add_row(Text(printable(drill.name)), Text(tempo), Text(words))
    return Group(table, Text("\n  More of one: coach drills NAME. Play it: coach drill NAME"))


def drill_page(drill: Drill, instrument: str) -> RenderableType:
    """What the list has no room for; `instrument` in words."""
    count = len(drill.variants)
    facts = [
        ("about", drill.about),
        ("tempo", f"{_tempo(drill)} clicks a minute"),
        ("variants", f"{count}, played in turn" if count > 1 else ""),
        ("here for", instrument),
        ("take care", " ".join(drill.cautions)),
    ]
    title = Text(f"  {printable(drill.title)}", style=BOLD)
    return Group(title, _facts([fact for fact in facts if fact[1]]))


def _tempo(drill: DrillLine | Drill) -> str:
    return f"{drill.from_bpm:g} to {drill.to_bpm:g}"


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """A device: its number and name, what `kind` of thing it is ("MIDI in", a sound system).

    Channels and rate are None for MIDI; `chosen`: this one would be used.
    """

    number: int
    name: str
    kind: str
    inputs: int | None = None
    outputs: int | None = None
    rate_hz: float | None = None
    chosen: bool = False


def devices_table(rows: Sequence[DeviceRow]) -> RenderableType:
    """Devices; the one that would be used has an arrow."""
    if not rows:
        nothing = "No sound or MIDI device was found. Plug one in; without one:"
        words = Text(f"{nothing} coach demo, or --input FILE")
        return Padding(words, (0, 0, 0, 2), expand=False)
    table = _listing("", "#", "name", "kind", "in", "out", "rate")
    for row in rows:
        rate = "" if row.rate_hz is None else f"{row.rate_hz:g} Hz"
        counts = ["" if n is None else str(n) for n in (row.inputs, row.outputs)]
        name = Text(printable(row.name), style=BOLD if row.chosen else "")
        arrow = "→" if row.chosen else ""
        table.add_row(arrow, str(row.number), name, Text(printable(row.kind)), *counts, rate)
    foot = "→ is used; another: " if any(row.chosen for row in rows) else "Choose one: "
    return Group(table, Text(f"\n  {foot}--device NAME, or its number"))


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What `coach check` found; None where it could not be measured.

    Levels in dB under full scale, `round_trip_ms` from the click played to the click heard.
    """

    device: str
    level_db: float | None = None
    noise_db: float | None = None
    round_trip_ms: float | None = None
    advice: tuple[str, ...] = ()


def check_panel(result: CheckResult) -> RenderableType:
    """Input level, noise floor and round trip, then what to do about them."""
    facts = [
        ("device", result.device),
        ("your loudest", _decibels(result.level_db)),
        ("the room alone", _decibels(result.noise_db)),
        ("round trip", _milliseconds(result.round_trip_ms)),
    ]
    sentences = [Text(f"  {sentence}", style=BOLD) for sentence in result.advice]
    return Group(_facts(facts), *([Text(), *sentences] if sentences else []))


def _decibels(level_db: float | None) -> str:
    return "not measured" if level_db is None else f"{level_db:.0f} dB  {_bar(level_db)}"


def _bar(level_db: float) -> str:
    """Three decibels a cell, from 60 dB under full scale."""
    cells = max(0, min(20, round((level_db + 60) / 3)))
    return "▬" * cells + "·" * (20 - cells)


def _milliseconds(value: float | None) -> str:
    return "not measured" if value is None else f"{value:.1f} ms"
