"""How a player tongues, and what is said on a note."""

from __future__ import annotations

import math
from dataclasses import dataclass

# t is the front syllable, k the back one; the last goes over two beats.
ORDERS = ("ttk", "tkt", "tktktk")
STYLES = ("single", "double", "triple")


@dataclass(frozen=True, slots=True)
class Style:
    """How a player tongues; configs/tonguing.toml has the reasons for the figures.

    `order` is one of `ORDERS`; `single_limit_hz` the notes a second that the front syllable alone
    can keep up; `force` one of `STYLES` at any tempo, or None to go by the note rate;
    `back_on_beat` begins beats with the back syllable, at any tempo too (with `force` "single" the
    back syllable is practised alone).  A silence of `rest_share` of the time between two starts is
    a rest, unless even notes follow each other too quickly for single tonguing; a note
    `long_ratio` times as long as the next is long; a note that lies `leap_semitones` or more from
    the one before is reached by a leap.
    """

    front: str = "ta"
    back: str = "ka"
    order: str = "ttk"
    single_limit_hz: float = 8.0
    force: str | None = None
    back_on_beat: bool = False
    rest_share: float = 0.25
    long_ratio: float = 1.5
    leap_semitones: int = 8

    def __post_init__(self) -> None:
        if self.order not in ORDERS:
            raise ValueError(f"order {self.order!r} is none of {', '.join(ORDERS)}")
        if self.force is not None and self.force not in STYLES:
            raise ValueError(f"style {self.force!r} is none of {', '.join(STYLES)}")
        if not (math.isfinite(self.single_limit_hz) and self.single_limit_hz > 0):
            raise ValueError("the limit of single tonguing must be above 0")

    @property
    def at_any_tempo(self) -> bool:
        """Whether double and triple are used however slow the notes are."""
        return self.force in ("double", "triple") or (self.back_on_beat and not self.force)

    @property
    def alternates(self) -> bool:
        """Whether notes in threes go front, back, front, back over the beats."""
        return self.order == "tktktk" or self.force == "double"

    def syllable(self, back: bool) -> str:
        return self.back if back else self.front

    def is_back(self, syllable: str) -> bool:
        """Back syllables begin with k or g in every spelling of the trade."""
        return syllable == self.back or syllable[:1].lower() in ("k", "g")


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is said on note `index`: a syllable, or None for a slurred note.

    `reason` says why it changed; it is empty where the pattern simply goes on.
    """

    index: int
    syllable: str | None
    reason: str = ""
