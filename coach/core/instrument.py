"""An instrument: how its part is written and how far it reaches."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Instrument:
    """`transposition` turns written into sounding pitch (horn in F: -7 semitones);
    `lowest` and `highest` are sounding MIDI numbers."""

    name: str
    title: str
    transposition: int
    lowest: int
    highest: int

    def reaches(self, pitch: int) -> bool:
        """Whether the sounding `pitch` lies in the range."""
        return self.lowest <= pitch <= self.highest
