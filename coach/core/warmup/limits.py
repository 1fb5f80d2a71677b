"""How a warm-up is shared out and where it stops; configs/warmup.toml has the reasons."""

from __future__ import annotations

from dataclasses import dataclass

# In the order in which they are played.  The player's weak spots come where "weak" stands.
KINDS = (
    "long-tones", "slurs", "swells", "attacks", "scales", "patterns", "tonguing", "weak", "range",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class KindShare:
    """One of `KINDS`: its share, the shortest warm-up in which it appears, and its tempo in quarter
    notes a minute (weak spots have their own).

    The share of "weak" is of the whole time; the others share what is left in these proportions.
    """

    kind: str
    share: float
    from_minutes: float
    tempo_bpm: float = 60.0


@dataclass(frozen=True, slots=True)
class WarmupLimits:
    """`kinds` in any order; of the time at most `blowing_share` is blown, and the lips are off for
    at least `rest_ratio` times what was blown, part by part.

    Notes above the comfortable range last `above_minutes` at most, parts that grow loud
    `loud_minutes`; both are for an hour, for shorter warm-ups in proportion.
    The range part goes `outside_semitones` beyond the comfortable range at most.
    """

    kinds: tuple[KindShare, ...]
    rest_ratio: float
    blowing_share: float
    above_minutes: float
    loud_minutes: float
    outside_semitones: int
    part_minutes: float

    @property
    def resting(self) -> float:
        """Rest for a second of blowing that keeps both `rest_ratio` and `blowing_share`."""
        return max(self.rest_ratio, 1 / self.blowing_share - 1)
