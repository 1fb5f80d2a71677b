"""Rows for a spreadsheet: CSV as RFC 4180 has it, in UTF-8 with a mark that says so."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from coach.core.share.cells import Cell, safe
from coach.files.output import whole_file


def write_table(path: Path, heading: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write the file, all of it or none; FileError if the system can't."""
    with (
        whole_file(path, private=True) as part,
        part.open("w", encoding="utf-8-sig", newline="") as file,
    ):
        writer = csv.writer(file)
        writer.writerow(heading)
        writer.writerows([safe(cell) for cell in row] for row in rows)
