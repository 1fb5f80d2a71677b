"""How a day of speed building is shared out; configs/building.toml has the reasons."""

from __future__ import annotations

from dataclasses import dataclass

STAGES = ("early", "middle", "late")
# In the order in which they are practised.  "end" is the whole passage at a tempo that goes, on the
# last day at the goal.
STEPS = (
    "slow", "rhythms", "exchanges", "slurs", "tongue", "windows", "bursts", "contrast", "adding",
    "accents", "gate", "above", "end",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class StepShare:
    """One of `STEPS`: its share of the day (shares need not add up to 1), the `STAGES` in which it
    is practised, and the most takes for one passage."""

    step: str
    share: float
    stages: tuple[str, ...]
    most_takes: int


@dataclass(frozen=True, slots=True)
class BuildingSettings:
    """Tempi are shares: of what goes today `slow_share` (whole with full air), `pieces_share`
    (rhythms, finger changes, accents), `end_share` (what will succeed); of the goal `above_share`.

    Where nobody knows what goes, it is taken to be the tempo with which the passage's drill begins,
    or `start_share` of the goal if that is no slower than the goal.  The first `early_share` of the
    days are early, the last ones from `late_share` on late.  The lips are off for at least
    `rest_ratio` times what was blown; of a day `load_minutes` at most are blown.
    """

    steps: tuple[StepShare, ...]
    slow_share: float
    pieces_share: float
    end_share: float
    above_share: float
    start_share: float
    early_share: float
    late_share: float
    rest_ratio: float
    load_minutes: float
    part_minutes: float

    def stage(self, day: int, days: int) -> str:
        """The stage of day 1 to `days`; a way of one day is late."""
        done = (day - 1) / (days - 1) if days > 1 else 1.0
        if done < self.early_share:
            return "early"
        return "middle" if done < self.late_share else "late"
