"""What counts as late, wrong, split or muffled.  The figures stand in configs/rules.toml."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Rules:
    """One named set of tolerances; configs/rules.toml gives the reason for each figure."""

    name: str = "normal"
    tolerance_ms: float = 25.0
    tolerance_share: float = 0.20
    window_ms: float = 50.0
    window_share: float = 0.45
    offset_limit_ms: float = 60.0
    pitch_cents: float = 50.0
    split_ms: float = 20.0
    muffled_db: float = 10.0
    muffled_chance: float = 0.5
    register_db_per_semitone: float = 0.4
    unsure_below: float = 0.3
    blame_above: float = 0.75
    pass_share: float = 0.9

    @classmethod
    def names(cls) -> tuple[str, ...]:
        """The keys a set in configs/rules.toml may hold."""
        return tuple(f.name for f in fields(cls) if f.name != "name")


def tolerance_frames(rules: Rules, interval_frames: float, rate: int) -> float:
    """How far an attack may lie from its place: the smaller of a time and a share of the interval
    to the neighbouring note."""
    return min(rules.tolerance_ms * rate / 1000, rules.tolerance_share * interval_frames)


def window_frames(rules: Rules, interval_frames: float, rate: int) -> float:
    """How far an attack may lie from its place and still be taken for this note."""
    return min(rules.window_ms * rate / 1000, rules.window_share * interval_frames)
