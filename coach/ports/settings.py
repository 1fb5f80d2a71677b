"""What configs/sound.toml says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from coach.errors import CoachError

ENGINES = ("c", "python")
MIDI_APIS = ("auto", "alsa", "jack", "core", "windows")
LIMITS: dict[str, tuple[float, float]] = {
    "rate": (8000, 192000),
    "block_frames": (16, 8192),
    "latency_s": (0.0, 2.0),
    "lead_s": (0.02, 2.0),
    "ring_s": (0.2, 60.0),
    "input_channel": (1, 64),
}


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """`engine` is "c" or "python"; lengths in frames or seconds as the names say.

    `lead_s`: how far ahead of now a click can be placed at the earliest; `ring_s`: how long reading
    may pause before sound is lost; `input_channel` counts from 1.
    """

    engine: str = "c"
    rate: int = 48000
    block_frames: int = 256
    latency_s: float = 0.1
    lead_s: float = 0.3
    ring_s: float = 20.0
    input_channel: int = 1
    midi_api: str = "auto"

    @classmethod
    def from_table(cls, table: Mapping[str, Any], where: str = "sound.toml") -> SoundSettings:
        """From a TOML table; CoachError for an unknown key or a value out of range."""
        kinds: dict[str, type] = {f.name: type(f.default) for f in fields(cls)}
        for key, value in table.items():
            if key not in kinds:
                raise CoachError(f"{key!r} is unknown here", where, f"known are {', '.join(kinds)}")
            _check(key, value, kinds[key], where)
        return cls(**{key: kinds[key](value) for key, value in table.items()})


def _check(key: str, value: Any, kind: type, where: str) -> None:
    wanted: Any = (int, float) if kind is float else kind
    if not isinstance(value, wanted) or isinstance(value, bool):
        raise CoachError(f"{key} = {value!r} is not {_KINDS[kind]}", where, "mend it there")
    names = {"engine": ENGINES, "midi_api": MIDI_APIS}.get(key)
    if names and value not in names:
        raise CoachError(f"{key} = {value!r} is unknown", where, f"use one of {', '.join(names)}")
    low, high = LIMITS.get(key, (0.0, 0.0))
    if key in LIMITS and not low <= value <= high:
        raise CoachError(f"{key} = {value} is out of range", where, f"use {low:g} to {high:g}")


_KINDS = {int: "a whole number", float: "a number", str: "a word"}
