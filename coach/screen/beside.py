"""Two takes of one passage, note beside note."""

from __future__ import annotations

from rich.text import Text

from coach.core.exercise import Exercise
from coach.core.report import Report
from coach.core.take import Verdict
from coach.screen.page import Lines, line
from coach.screen.style import BOLD, DIM, MARKS
from coach.screen.words import deviation_ms, heard_name, printable, signed, spelling_of

_CELL = 22


def beside(one: tuple[str, Report], two: tuple[str, Report], exercise: Exercise) -> Lines:
    """Each take with its name; one line a note: verdict and deviation in both.

    The notes that came out otherwise are marked by a bar at the left.
    """
    spelling = spelling_of(exercise)
    head = "".join(printable(name).ljust(_CELL) for name, _ in (one, two))
    rows = [line((f"{'':>4}{'note':<8}{head}".rstrip(), DIM))]
    for a, b in zip(one[1].verdicts, two[1].verdicts, strict=True):
        name = f"{a.index + 1:>3} {spelling.name(a.due.pitch):<6}"
        bar = "┃ " if a.kind != b.kind else "  "
        cells = [_cell(v, report.rate, exercise) for v, (_, report) in ((a, one), (b, two))]
        rows.append(line((name, BOLD), bar, *cells))
    return Lines(tuple(rows))


def _cell(verdict: Verdict, rate: int, exercise: Exercise) -> Text:
    mark = MARKS[verdict.kind]
    other = heard_name(verdict, spelling_of(exercise))
    figure = f"is {other}" if other else signed(deviation_ms(verdict, rate))
    cell = Text.assemble((mark.shape, mark.style), f" {verdict.kind:<8} {figure:>5}")
    cell.pad_right(max(0, _CELL - cell.cell_len))
    return cell
