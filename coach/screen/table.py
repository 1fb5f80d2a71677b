"""The table of a take, note by note."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Verdict
from coach.screen.page import MARGIN, Lines
from coach.screen.ruler import odd, ruler, scale_line, tolerances_ms
from coach.screen.style import BOLD, DIM, MARKS
from coach.screen.words import (
    Spelling,
    counts_line,
    deviation_ms,
    heard_name,
    offset_words,
    percent,
    signed,
)

HEAD_ROWS = 2  # heading and its rule
WIDEST_RULER = 61
NARROWEST_RULER = 15
_OTHER_COLUMNS = 46


def note_table(
    report: Report, spelling: Spelling, width: int, rows: int | None, rules: Rules
) -> RenderableType:
    """The notes of a take in at most `rows` rows, heading and summary included (None: all).

    Where not all notes fit, only those with a fault are shown; where these do not fit either, the
    first of them.
    """
    summary = _summary(report, width)
    shown, left_out = _chosen(report, None if rows is None else rows - HEAD_ROWS - len(summary))
    told = [f"and {left_out} more", *summary] if shown and left_out else summary
    words = Lines(tuple(Text(f"{MARGIN}{row}", style=DIM) for row in told[:rows]))
    return Group(_table(shown, report, spelling, width, rules), words) if shown else words


def _chosen(report: Report, room: int | None) -> tuple[Sequence[Verdict], int]:
    """The verdicts to show, and how many faulty notes had to be left out: that takes a row."""
    if room is None or len(report.verdicts) <= room:
        return report.verdicts, 0
    faults = [v for v in report.verdicts if v.kind != "clean"]
    if len(faults) > room:
        room -= 1
    shown = faults[: max(0, room)]
    return shown, len(faults) - len(shown)


def _summary(report: Report, width: int) -> list[str]:
    """How many of each verdict, and where the take lay; in as many rows as they need."""
    spread = "" if report.spread_ms is None else f", spread {report.spread_ms:.0f} ms"
    told = (counts_line(report), f"{offset_words(report.offset_ms)}{spread}")
    return [row for words in told for row in wrap(words, max(10, width - len(MARGIN)))]


def _table(
    shown: Sequence[Verdict], report: Report, spelling: Spelling, width: int, rules: Rules
) -> Table:
    cells = odd(min(WIDEST_RULER, width - _OTHER_COLUMNS))
    optional = _optional(shown)
    tolerances = tolerances_ms([v.due for v in report.verdicts], rules, report.rate)
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    table.add_column("  #", justify="right", no_wrap=True)
    for heading in ("note", *optional, "verdict"):
        table.add_column(heading, no_wrap=True)
    if cells >= NARROWEST_RULER:
        table.add_column(Text(scale_line(cells), style=DIM), no_wrap=True)
    table.add_column("ms", justify="right", no_wrap=True)
    table.add_column("heard", no_wrap=True)
    for verdict in shown:
        row = _row(verdict, report.rate, spelling, optional)
        if cells >= NARROWEST_RULER:
            row.insert(-2, ruler(verdict, report.rate, tolerances[_place(verdict, report)], cells))
        table.add_row(*row)
    return table


def _place(verdict: Verdict, report: Report) -> int:
    return next(k for k, other in enumerate(report.verdicts) if other is verdict)


def _optional(shown: Sequence[Verdict]) -> tuple[str, ...]:
    """Columns that stand empty are left out."""
    found = [("syll", "syllable"), ("fing", "fingering")]
    return tuple(head for head, name in found if any(getattr(v.due, name) for v in shown))


def _row(
    verdict: Verdict, rate: int, spelling: Spelling, optional: Sequence[str]
) -> list[RenderableType]:
    mark = MARKS[verdict.kind]
    fault = verdict.kind not in ("clean", "unsure")
    extra = {"syll": verdict.due.syllable, "fing": verdict.due.fingering}
    return [
        Text(str(verdict.index + 1)),
        Text(spelling.name(verdict.due.pitch), style=BOLD),
        *(Text(extra[heading] or "") for heading in optional),
        Text.assemble((mark.shape, mark.style), (f" {verdict.kind}", BOLD if fault else "")),
        Text(signed(deviation_ms(verdict, rate))),
        Text(heard_name(verdict, spelling)),
    ]


def report_table(
    report: Report,
    *,
    transposition: int = 0,
    fifths: int = 0,
    rules: Rules | None = None,
    width: int = 80,
    rows: int | None = None,
) -> RenderableType:
    """A judged recording: the result in two lines, then note by note.

    `transposition` (semitones, horn in F: -7) and `fifths` (key) say how the notes are written.
    """
    spelling = Spelling(transposition, fifths)
    word = "passed" if report.passed else "not passed"
    head = Text.assemble((f"  {percent(report.accuracy)} clean, {word}", BOLD))
    remarks = [Text(f"  {remark}") for remark in report.said]
    table = note_table(report, spelling, width, rows, rules or Rules())
    return Group(head, _figures(report), *remarks, Text(), table)


def _figures(report: Report) -> Text:
    parts = [f"tempo {report.tempo_ratio:.3f} of the written one"]
    if report.evenness_cv is not None:
        parts.append(f"evenness {100 * report.evenness_cv:.1f} %")
    parts.append(f"tuned {signed(report.tuning_cents)} cents")
    if report.gaps:
        lost_s = sum(gap.length_frames for gap in report.gaps) / report.rate
        parts.append(f"{lost_s:.2f} s of sound lost")
    return Text("  " + ", ".join(parts))
