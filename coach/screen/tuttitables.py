"""The tables of a fit and of a section."""

from __future__ import annotations

from rich.box import SIMPLE_HEAD
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from coach.core.tutti.fit import EnsembleFit, Together
from coach.core.tutti.section import Lead, Section
from coach.core.tutti.words import step_name
from coach.screen.score import ScoreLayout
from coach.screen.style import BOLD, MARKS
from coach.screen.words import printable, signed

OTHERS, JUST, TEMPERED = "others there", "just, cents", "tempered, cents"
OTHER_ROWS = 2  # heading and its rule
FEWEST_ROWS = OTHER_ROWS + 2
# From these widths on there is room for cents, for the place in the chord, for the interval.
CENTS_WIDE, CHORD_WIDE, SURE_WIDE = 64, 90, 60


def fit_table(fit: EnsembleFit, score: ScoreLayout, width: int, rows: int) -> RenderableType | None:
    """The notes that lay furthest from the others (from the click where nobody starts with them),
    in order of time, as many as there is room for; None where there is none."""
    if rows < FEWEST_ROWS or not fit.attacks:
        return None
    pitches = {one.index: one for one in fit.pitches}
    furthest = sorted(fit.attacks, key=lambda one: -abs(_off(one)))[: rows - OTHER_ROWS]
    columns = ["#", "note", "bar", OTHERS, "ms"]
    wide = bool(pitches) and width >= CENTS_WIDE
    table = _table([*columns, *([JUST, TEMPERED] if wide else [])])
    if wide and width >= CHORD_WIDE:
        table.add_column("in the chord", no_wrap=True)
    for one in sorted(furthest, key=lambda one: one.index):
        row = [str(one.index + 1), score.names[one.index], str(one.bar)]
        row += [str(len(one.voices) or ""), signed(_off(one))]
        pitch = pitches.get(one.index)
        if wide and pitch:
            row += [signed(pitch.just_cents), signed(pitch.tempered_cents)]
            row += [step_name(pitch.semitones)] if width >= CHORD_WIDE else []
        table.add_row(*row)
    return table


def _off(one: Together) -> float:
    return one.grid_ms if one.against_ms is None else one.against_ms


def section_table(section: Section, width: int, rows: int) -> RenderableType | None:
    """The players, the furthest ahead first; None where none could be placed or seen."""
    if rows < FEWEST_ROWS or not section.standings:
        return None
    loud = section.one_scale
    wide = width >= SURE_WIDE
    table = _table(
        ["player", "ms", *(["90 % sure"] if wide else []), "", *(["dB"] if loud else [])]
    )
    for one in sorted(section.standings, key=lambda one: one.late_ms)[: rows - OTHER_ROWS]:
        row = [Text(printable(one.name), style=BOLD), Text(signed(one.late_ms))]
        row += [Text(f"{signed(one.low_ms)} to {signed(one.high_ms)}")] if wide else []
        row.append(_mark(one))
        row += [Text(_decibels(one.loud_db))] if loud else []
        table.add_row(*row)
    return table


def _decibels(loud_db: float | None) -> str:
    """ "+1.5"; nothing where it is not known."""
    if loud_db is None:
        return ""
    rounded = round(loud_db, 1)
    return f"{rounded:+.1f}" if rounded else "0"


def _mark(one: Lead) -> Text:
    if not one.told:
        return Text("with the others")
    mark = MARKS["early" if one.late_ms < 0 else "late"]
    word = "leads" if one.late_ms < 0 else "lags"
    return Text.assemble((mark.shape, mark.style), f" {word}")


def _table(headings: list[str]) -> Table:
    table = Table(box=SIMPLE_HEAD, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for heading in headings:
        right = heading in ("#", "ms", "bar", JUST, TEMPERED, "dB", OTHERS)
        table.add_column(heading, justify="right" if right else "left", no_wrap=True)
    return table
