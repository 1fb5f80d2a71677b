"""What each trouble costs: the table of configs/fingering.toml as numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

TERMS = (
    "fingers",
    "exchanges",
    "side_changes",
    "length_added",
    "partials_slurred",
    "slide",
    "same_shape",
    "measured",
    "second_third",
    "ring_finger",
    "intonation",
    "narrow_partials",
    "clarity",
    "rare_partials",
    "custom",
    "other_side",
    "relearn",
)


@dataclass(frozen=True, slots=True)
class Weights:
    """configs/fingering.toml, which says what each figure means and why.

    `finger` by name ("T", "1" ...), `exchange` by the two fingers ("12").  `measured` has of moves
    between two fingerings (both names) what the player's own takes say, in the same unit at hurry
    1, and the share (0 to 1) of it that takes the place of what is assumed of the fingers.
    """

    hurried_gap_s: float = 0.125
    long_note_s: float = 0.5
    phrase_rest_s: float = 0.3
    side_change_gap_s: float = 0.1666
    finger: Mapping[str, float] = field(
        default_factory=lambda: {"T": 0.6, "H": 0.6, "1": 0.5, "2": 0.5, "3": 0.9, "4": 1.0}
    )
    exchange: Mapping[str, float] = field(default_factory=lambda: {"12": 2.2, "23": 2.4, "13": 1.4})
    other_exchange: float = 1.5
    growth: float = 0.6
    second_third: float = 1.3
    ring_finger: float = 0.8
    intonation: float = 1.2
    narrow_partials: float = 0.12
    clarity: float = 0.16
    pedal: float = 2.0
    seventh: float = 1.2
    rare: float = 12.0
    custom: float = 2.0
    other_side: float = 0.6
    relearn: float = 2.5
    side_change: float = 1.5
    side_change_in_run: float = 12.0
    length_added: float = 0.2
    partials_slurred: float = 0.35
    same_shape: float = 1.2
    slide: float = 0.35
    measured: Mapping[tuple[str, str], tuple[float, float]] = field(default_factory=dict)

    def hurry(self, gap_s: float) -> float:
        """How little time there is between two notes: 1 at `hurried_gap_s`, with the square of it
        before; never more than 2."""
        return min(2.0, (self.hurried_gap_s / max(gap_s, 1e-3)) ** 2)
