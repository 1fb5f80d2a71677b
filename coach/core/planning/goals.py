"""What a player wants to reach: a passage at a tempo, by a day or whenever it comes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Goal:
    """The passage kept under `drill`, at `goal_bpm` clicks a minute, by `due_day` (as
    `date.toordinal`; None: no day presses)."""

    drill: str
    instrument: str
    goal_bpm: float
    due_day: int | None = None
