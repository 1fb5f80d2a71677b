"""The scorecard as text: 100 columns, and the page that keeps it.

The ratio is made so that above 1 the coach does better: so many times as quick, as near, as small,
or so many times as often right.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from platform import python_version

from tests.benchmarks.scorecard.rows import PYTHON, SHARE, Figure, Figures, Row, Section

PAGE = Path(__file__).parents[1] / "scorecard.md"
WIDTHS = (34, 9, 9, 7, 12)
HEADS = ("", "ours", "theirs", "ratio", "n")
NONE = "-"
UNITS = {"": "", "x": "x", "%": " %"}
FENCE = "```"


def table(sections: Sequence[Section], measured: Mapping[str, Figures]) -> str:
    """All rows, under the titles of their sections; `measured` by the module of a section.  A row
    that was not measured has no figures."""
    lines = [_line([*HEADS, "theirs is"])]
    for section in sections:
        figures = measured.get(section.module, {})
        lines += ["", section.title]
        lines += [_line(_cells(row, figures.get(row.key))) for row in section.rows]
    return "\n".join(lines)


def _cells(row: Row, figure: Figure | None) -> list[str]:
    if figure is None:
        return [row.what, NONE, NONE, NONE, NONE, peer_of(row)]
    ratio = ratio_of(row, figure)
    return [
        row.what,
        shown(figure.ours, row.unit),
        NONE if figure.theirs is None else shown(figure.theirs, row.unit),
        NONE if ratio is None else number(ratio),
        figure.n,
        peer_of(row),
    ]


def _line(cells: Sequence[str]) -> str:
    what, *figures, peer = cells
    padded = "".join(f"{one:>{width}}" for one, width in zip(figures, WIDTHS[1:], strict=True))
    return f"{what:{WIDTHS[0]}}{padded}  {peer}".rstrip()


def ratio_of(row: Row, figure: Figure) -> float | None:
    """How many times better ours is; None where one of them is nothing."""
    if not figure.ours or not figure.theirs:
        return None
    return figure.ours / figure.theirs if row.more else figure.theirs / figure.ours


def shown(value: float, unit: str) -> str:
    """A figure with its unit."""
    if unit == SHARE:
        # Never rounded up: 1 is all of them.
        return f"{math.floor(value * 10_000) / 10_000:.4f}"
    return number(value) + UNITS.get(unit, f" {unit}")


def number(value: float) -> str:
    """Three figures, four places at most, no exponents."""
    if not value or not math.isfinite(value):
        return "0" if value == 0 else NONE
    value = float(f"{value:.3g}")
    places = min(4, max(0, 2 - math.floor(math.log10(abs(value)))))
    return f"{value:,.{places}f}"


def peer_of(row: Row) -> str:
    """The library with its version, and which part of it."""
    if not row.peer:
        return NONE
    return " ".join(filter(None, (row.peer, _version(row.peer), row.by)))


def _version(library: str) -> str:
    """Nothing where it is not installed."""
    if library == PYTHON:
        return python_version()
    try:
        return version(library)
    except PackageNotFoundError:
        return ""


def rewritten(page: str, heading: str, text: str) -> str:
    """The page with another table and what is said above it; all else stays."""
    before, _, rest = page.partition(FENCE)
    _, _, after = rest.partition(FENCE)
    above = before.rstrip().rsplit("\n\n", 1)[0]
    return f"{above}\n\n{heading}\n\n{FENCE}text\n{text}\n{FENCE}{after}"


def kept_date(page: str) -> str | None:
    """The day (ISO) on which the table of a page was measured."""
    found = re.search(r"^Measured on (\d{4}-\d\d-\d\d)", page, re.MULTILINE)
    return found and found.group(1)


def kept_rows(page: str) -> Iterator[tuple[str, str, str]]:
    """(what, ours, name of the peer) of every row in the table of a page."""
    inside = page.partition(f"{FENCE}text\n")[2].partition(FENCE)[0]
    for line in inside.splitlines()[1:]:
        figures = line[WIDTHS[0] :].split(maxsplit=1)
        peer = line[sum(WIDTHS) :].strip()
        if peer and figures:
            yield line[: WIDTHS[0]].strip(), figures[0], peer
