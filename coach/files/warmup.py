"""configs/warmup.toml: what a warm-up is made of, and how much of it."""

from __future__ import annotations

from pathlib import Path

from coach.core.warmup import KINDS, SHORTEST_MINUTES, KindShare, WarmupLimits
from coach.errors import FileError
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml

SLOWEST_BPM, FASTEST_BPM = 30, 200


def load_warmup() -> WarmupLimits:
    """The settings that come with the coach."""
    return read_warmup(data_folder("configs") / "warmup.toml")


def read_warmup(path: Path) -> WarmupLimits:
    """FileError where a figure is missing or wrong, or a kind unknown."""
    table = Table(read_toml(path), path)
    limits = WarmupLimits(
        kinds=_kinds(table.table("kinds")),
        rest_ratio=table.number("rest_ratio", 0, 5),
        blowing_share=table.number("blowing_share", 0.2, 1),
        above_minutes=table.number("above_minutes", 0, 60),
        loud_minutes=table.number("loud_minutes", 0, 60),
        outside_semitones=table.whole("outside_semitones", 0, 12),
        part_minutes=table.number("part_minutes", 2, 15),
    )
    table.finish()
    return limits


def _kinds(table: Table) -> tuple[KindShare, ...]:
    names = table.only(KINDS, "kind")
    kinds = tuple(_kind(table.table(name), name) for name in names)
    own = [kind for kind in kinds if kind.kind not in ("weak", "range")]
    if all(kind.from_minutes > SHORTEST_MINUTES for kind in own):
        what = f"no kind but weak and range is there from {SHORTEST_MINUTES} minutes"
        raise FileError(what, str(table.path), "lower from_minutes of one")
    return kinds


def _kind(table: Table, name: str) -> KindShare:
    share, from_minutes = table.number("share", 0.01, 1), table.number("from_minutes", 0, 60)
    tempo_bpm = 60.0 if name == "weak" else table.number("tempo_bpm", SLOWEST_BPM, FASTEST_BPM)
    table.finish()
    return KindShare(name, share, from_minutes, tempo_bpm)
