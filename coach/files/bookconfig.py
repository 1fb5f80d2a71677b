"""configs/book.toml: what is kept beside the book."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml

BYTES_A_MB = 1_000_000


@dataclass(frozen=True, slots=True)
class SoundKeeping:
    """Whether the sound of takes is kept, and how many bytes there are for all of it."""

    keep: bool
    budget_bytes: int


def load_sound_keeping() -> SoundKeeping:
    """The settings that come with the coach."""
    return read_sound_keeping(data_folder("configs") / "book.toml")


def read_sound_keeping(path: Path) -> SoundKeeping:
    """FileError where a figure is missing or wrong."""
    table = Table(read_toml(path), path)
    sound = table.table("sound")
    keep = sound.flag("keep")
    budget = round(BYTES_A_MB * sound.number("budget_mb", 1, 1_000_000))
    sound.finish()
    table.finish()
    return SoundKeeping(keep, budget)
