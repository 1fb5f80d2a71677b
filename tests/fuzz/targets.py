"""All targets by name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.fuzz import books, files, midi, plain, sounds, tables

Target = Callable[[Random, Path], str]

TARGETS: dict[str, Target] = {
    "drill": tables.drill,
    "instrument": tables.instrument,
    "config": tables.config,
    "player": tables.player,
    "expected": plain.expected,
    "batch": plain.batch,
    "fingerings": plain.fingerings,
    "records": plain.records,
    "positions": plain.positions,
    "events": plain.events,
    "calibration": plain.calibration,
    "score": files.score,
    "sound-file": files.sound_file,
    "midi": midi.midi,
    "midi-message": midi.bare,
    "ears": sounds.ears,
    "tools": sounds.tools,
    "book": books.book,
}


def example(name: str, seed: int, folder: Path) -> str:
    """What comes of one spoiled input, the same for the same seed; whatever it raises is a
    failure."""
    return TARGETS[name](Random(f"{name}-{seed}"), folder)
