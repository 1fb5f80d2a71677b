"""The figures of a trial; configs/trial.toml has the reasons."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TrialSettings:
    """How a trial is run and when it ends.

    `false_share`: in at most this share of trials of equal ways one is called cleaner;
    `hidden_share`: in at most this share of trials with a difference that matters both are called
    even; `cleaner_share` and `less_clean_share` (of notes) are two ways whose difference matters;
    `false_power`, `hidden_power` spread such decisions over the trial (1 evenly, more: later).
    `pairs_at_16`: the most pairs with takes of 16 notes, `take_variance` (radians squared) what a
    take varies beyond its notes, on the scale of `sequential.stabilised`.
    `up_share`, `down_share`: both takes of a pair at or above, or below, move the tempo by
    `step_percent`, at most to `slowest_factor` and `fastest_factor` times the first.  A take with
    under `heard_share` of its notes heard is played again, at most `repeats` times running.
    `tired_notes`, `tired_drop`: both ways are less clean by this share than before, over the last
    pairs with so many notes of each.
    """

    false_share: float = 0.05
    hidden_share: float = 0.15
    cleaner_share: float = 0.9
    less_clean_share: float = 0.8
    false_power: float = 2.0
    hidden_power: float = 1.5
    pairs_at_16: int = 30
    take_variance: float = 0.055
    up_share: float = 0.9
    down_share: float = 0.75
    step_percent: float = 4.0
    slowest_factor: float = 0.5
    fastest_factor: float = 1.5
    heard_share: float = 0.5
    repeats: int = 3
    tired_notes: int = 64
    tired_drop: float = 0.15

    @property
    def worthwhile_share(self) -> float:
        """The difference in clean notes that matters, as a share."""
        return self.cleaner_share - self.less_clean_share

    def tired_pairs(self, notes: int) -> int:
        """How many of the last pairs tell whether the player is tired, at least two."""
        return max(2, math.ceil(self.tired_notes / notes))

    def most_pairs(self, notes: int) -> int:
        """The limit for takes of `notes` notes: longer takes tell more, so fewer are needed.

        A take's variance on the stabilised scale is 1 / notes + `take_variance`; the limit keeps
        the variance of the mean difference what it is with 16 notes.
        """
        ratio = (1 / notes + self.take_variance) / (1 / 16 + self.take_variance)
        return math.ceil(self.pairs_at_16 * ratio - 1e-9)
