"""Takes and notes as rows of a spreadsheet, units in the names of the columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Cell = str | int | float | None

TAKE_COLUMNS = (
    "take",
    "player",
    "day",
    "kept_utc",
    "drill",
    "title",
    "instrument",
    "rules",
    "tempo_bpm",
    "notes",
    "judged_notes",
    "clean_notes",
    "clean_share",
    "passed",
    "seconds",
    "offset_ms",
    "spread_ms",
    "evenness_cv",
    "tuning_cents",
    "lost_frames",
)
NOTE_COLUMNS = (
    "take",
    "player",
    "day",
    "drill",
    "instrument",
    "tempo_bpm",
    "note",
    "expected_midi",
    "slurred",
    "syllable",
    "fingering",
    "verdict",
    "attack_s",
    "deviation_ms",
    "midi",
    "cents",
    "level_db",
    "rise_ms",
    "lag_ms",
    "confidence",
)
_MEASURED = NOTE_COLUMNS[NOTE_COLUMNS.index("verdict") :]
# What spreadsheets may take for the beginning of a formula (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def safe(cell: Cell) -> Cell:
    """Text that a spreadsheet would calculate gets an apostrophe in front; numbers stay."""
    if not isinstance(cell, str):
        return cell
    line = cell.replace("\r\n", " ").replace("\n", " ")
    return f"'{line}" if line.startswith(_FORMULA) else line


def take_row(player: str, record: Mapping[str, Any]) -> list[Cell]:
    """The row of a take record, as `TAKE_COLUMNS`."""
    take, report = record["take"], record["report"]
    plan = take["plan"]
    kinds = [note["verdict"] for note in report["notes"]]
    judged, clean = len(kinds) - kinds.count("unsure"), kinds.count("clean")
    return [
        *_head(player, record),
        record["kept_utc"],
        record["drill"],
        record["title"],
        record["instrument"],
        record["rules"],
        plan["exercise"]["tempo_bpm"],
        len(kinds),
        judged,
        clean,
        round(clean / judged, 4) if judged else 0.0,
        int(report["passed"]),
        round((plan["end_frame"] - plan["downbeat_frame"]) / plan["rate"], 3),
        *(report.get(name) for name in ("offset_ms", "spread_ms", "evenness_cv", "tuning_cents")),
        take.get("lost_frames", 0),
    ]


def note_rows(player: str, record: Mapping[str, Any]) -> Iterator[list[Cell]]:
    """A row for each note of a take record, as `NOTE_COLUMNS`; notes count from 1."""
    exercise = record["take"]["plan"]["exercise"]
    head = [*_head(player, record), record["drill"], record["instrument"], exercise["tempo_bpm"]]
    for number, (note, told) in enumerate(
        zip(exercise["passage"]["notes"], record["report"]["notes"], strict=False), 1
    ):
        due = [note["pitch"], int(note.get("slurred", False))]
        words = [note.get("syllable"), note.get("fingering")]
        yield [*head, number, *due, *words, *(told.get(name) for name in _MEASURED)]


def _head(player: str, record: Mapping[str, Any]) -> list[Cell]:
    return [record["uid"], player, record["day"]]
