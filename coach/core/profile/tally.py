"""Counts of one day: all that the profile needs of any number of takes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tally:
    """What notes of one kind did on one day.

    `kind` is what they are told apart by ("move": from one fingering to the next, "syllable",
    "register" ...), `name` which of them ("1>3", "ka", "low"); `day` counts calendar days from
    0001-01-01, as `date.toordinal`.  Of `count` judged notes ("unsure" left out) `clean` were
    clean.  `values` of them have a measured value (a lag or deviation in ms, a level in dB: see
    `tallies`), whose sum and sum of squares are kept.
    """

    kind: str
    name: str
    day: int
    count: int
    clean: int
    values: int = 0
    total: float = 0.0
    squares: float = 0.0

    def plus(self, other: Tally) -> Tally:
        """Both together; they are of the same kind, name and day."""
        return Tally(
            self.kind,
            self.name,
            self.day,
            self.count + other.count,
            self.clean + other.clean,
            self.values + other.values,
            self.total + other.total,
            self.squares + other.squares,
        )
