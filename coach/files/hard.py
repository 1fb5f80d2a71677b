"""configs/hard.toml: what makes a bar hard."""

from __future__ import annotations

from pathlib import Path

from coach.core.score.hardness import Hardness
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml
from coach.files.tonguing import load_tonguing

DEAREST = 100.0
FASTEST_HZ = 40.0


def load_hardness() -> Hardness:
    """The figures that come with the coach."""
    limit_hz = load_tonguing().style.single_limit_hz
    return read_hardness(data_folder("configs") / "hard.toml", limit_hz)


def read_hardness(path: Path, single_limit_hz: float) -> Hardness:
    """FileError where a figure is missing or wrong."""
    whole = Table(read_toml(path), path)
    rate, fingers, leaps, reach, tongue, places = tables = tuple(
        whole.table(name) for name in ("rate", "fingers", "leaps", "range", "tongue", "places")
    )
    free_hz = rate.number("free_hz", 0.5, FASTEST_HZ / 2)
    figures = Hardness(
        free_hz=free_hz,
        full_hz=rate.number("full_hz", free_hz + 0.1, FASTEST_HZ),
        rate=_weight(rate, "weight"),
        fingers=_weight(fingers, "weight"),
        free_semitones=leaps.whole("free_semitones", 0, 24),
        leaps=_weight(leaps, "weight"),
        partial=_weight(leaps, "partial"),
        high_share=reach.number("high_share", 0, 0.99),
        high=_weight(reach, "high"),
        low_share=reach.number("low_share", 0.01, 1),
        low=_weight(reach, "low"),
        near_share=tongue.number("near_share", 0, 2),
        tongue=_weight(tongue, "weight"),
        least=_weight(places, "least"),
        most_bars=places.whole("most_bars", 1, 16),
        beside_share=places.number("beside_share", 0, 1),
        run_share=places.number("run_share", 0, 1),
        single_limit_hz=single_limit_hz,
    )
    for table in (*tables, whole):
        table.finish()
    return figures


def _weight(table: Table, name: str) -> float:
    return table.number(name, 0, DEAREST)
