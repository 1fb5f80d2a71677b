"""What the takes tell of the player, and how sure: finger moves, syllables, registers, limits.

Days fade: a note counts half after `half_life_days`.  Every estimate begins with a prior and says
how much of it is measured.  A profile is of one instrument: finger moves are told by the numbers of
the valves.

Ceilings of single passages are not here: `core/pace/belief` believes them, `core/pace/prior` begins
them with the takes of earlier days.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.core.fingering.moves import FingerMove
from coach.core.profile.estimate import (
    Estimate,
    MeanPrior,
    SharePrior,
    Sums,
    difference,
    mean_estimate,
    share_estimate,
)
from coach.core.profile.limits import PRIOR_HZ, limit_estimate
from coach.core.profile.tallies import (
    ARTICULATION,
    EVENNESS,
    MOVE,
    OFFSET,
    RATE,
    REGISTER,
    SYLLABLE,
    TAKE,
    move_name,
    move_named,
    stroke_of,
)
from coach.core.profile.tally import Tally

HALF_LIFE_DAYS = 30.0
# Priors: assumptions, no source, each worth a few notes.  Of all notes nine in ten are clean (what
# the gate asks for); notes of one sort go as the player's notes in all.
CLEAN = SharePrior(0.9, 4.0)
SORT_NOTES = 4.0
# The planner assumes no lag.  Valves that come 15 ms late are ordinary, 30 ms rare.
LAG_MS = MeanPrior(0.0, 15.0, 10.0)
LEVEL_DB = MeanPrior(0.0, 3.0, 2.0)
DEVIATION_MS = MeanPrior(0.0, 10.0, 10.0)
# People lead a click by 10 to 80 ms (Repp, see configs/rules.toml), through headphones or not.
OFFSET_MS = MeanPrior(0.0, 30.0, 10.0)
EVENNESS_CV = MeanPrior(0.08, 0.05, 0.03)

SYLLABLES = ("front", "back", "single")
ARTICULATIONS = ("tongued", "slurred")
REGISTERS = ("low", "middle", "high")

# Sums by name, of each kind.
Kinds = dict[str, dict[str, Sums]]


@dataclass(frozen=True, slots=True)
class Seen:
    """Notes of one sort: the share of them that is clean, and the mean of their value: the lag of a
    move (ms), the level of a syllable (dB), the deviation of a register (ms)."""

    clean: Estimate
    value: Estimate

    def to_dict(self, value_name: str) -> dict[str, Any]:
        return {"clean": self.clean.to_dict(), value_name: self.value.to_dict()}


@dataclass(frozen=True, slots=True)
class Profile:
    """What is believed on `day` (`date.toordinal`).

    `clean` is the share of all notes; `moves` the finger moves that were played at all (`move`
    gives any); `articulations` the shares of tongued and slurred notes; `limits` notes a second by
    stroke; `offset_ms` how far behind the click; `evenness_cv` the variation of the intervals
    within a take.
    """

    day: int
    half_life_days: float
    clean: Estimate
    moves: Mapping[FingerMove, Seen]
    syllables: Mapping[str, Seen]
    articulations: Mapping[str, Estimate]
    registers: Mapping[str, Seen]
    limits: Mapping[str, Estimate]
    offset_ms: Estimate
    evenness_cv: Estimate

    def move(self, move: FingerMove) -> Seen:
        """What is believed of a finger move; if it was never played the prior, its count 0."""
        return self.moves.get(move) or _seen(Sums(), self.clean, LAG_MS)

    @property
    def back_level_db(self) -> Estimate:
        """How much louder back syllables are than front ones (softer: negative)."""
        return difference(self.syllables["back"].value, self.syllables["front"].value)

    @property
    def back_clean(self) -> Estimate:
        """The share of back syllables that is clean, less that of front ones."""
        return difference(self.syllables["back"].clean, self.syllables["front"].clean)

    def to_dict(self) -> dict[str, Any]:
        """As plain data; moves by name ("1>3": 1 up and 3 down)."""
        return {
            "day": self.day,
            "half_life_days": self.half_life_days,
            "clean": self.clean.to_dict(),
            "moves": {move_name(m): seen.to_dict("lag_ms") for m, seen in self.moves.items()},
            "syllables": {n: seen.to_dict("level_db") for n, seen in self.syllables.items()},
            "articulations": {n: clean.to_dict() for n, clean in self.articulations.items()},
            "registers": {n: seen.to_dict("deviation_ms") for n, seen in self.registers.items()},
            "limits_hz": {stroke: limit.to_dict() for stroke, limit in self.limits.items()},
            "back_level_db": self.back_level_db.to_dict(),
            "back_clean": self.back_clean.to_dict(),
            "offset_ms": self.offset_ms.to_dict(),
            "evenness_cv": self.evenness_cv.to_dict(),
        }


def profile_of(
    tallies: Iterable[Tally], today: int, half_life_days: float = HALF_LIFE_DAYS
) -> Profile:
    """The profile on day `today`; the tallies may come in any order, added up or not.

    ValueError unless the half-life is above 0.
    """
    if not half_life_days > 0:
        raise ValueError("the half-life must be above 0 days")
    kinds = _summed(tallies, today, half_life_days)
    articulations, takes = kinds.get(ARTICULATION, {}), kinds.get(TAKE, {})
    every = sum(articulations.values(), start=Sums())
    clean = share_estimate(every, CLEAN)
    moves = kinds.get(MOVE, {})
    return Profile(
        today,
        half_life_days,
        clean,
        {move_named(name): _seen(moves[name], clean, LAG_MS) for name in sorted(moves)},
        _all_seen(SYLLABLES, kinds.get(SYLLABLE, {}), clean, LEVEL_DB),
        {n: _share(articulations.get(n, Sums()), clean) for n in ARTICULATIONS},
        _all_seen(REGISTERS, kinds.get(REGISTER, {}), clean, DEVIATION_MS),
        _limits(kinds.get(RATE, {})),
        mean_estimate(takes.get(OFFSET, Sums()), OFFSET_MS),
        mean_estimate(takes.get(EVENNESS, Sums()), EVENNESS_CV),
    )


def _summed(tallies: Iterable[Tally], today: int, half_life_days: float) -> Kinds:
    """Faded by age; days to come (a clock set wrong) count as today."""
    kinds: Kinds = {}
    for tally in tallies:
        share = 0.5 ** (max(0, today - tally.day) / half_life_days)
        names = kinds.setdefault(tally.kind, {})
        names[tally.name] = names.get(tally.name, Sums()) + _faded(tally, share)
    return kinds


def _faded(tally: Tally, share: float) -> Sums:
    return Sums(
        share * tally.count,
        share * tally.clean,
        share * tally.values,
        share * tally.total,
        share * tally.squares,
    )


def _all_seen(
    names: Iterable[str], sums: Mapping[str, Sums], clean: Estimate, prior: MeanPrior
) -> dict[str, Seen]:
    return {name: _seen(sums.get(name, Sums()), clean, prior) for name in names}


def _seen(sums: Sums, clean: Estimate, prior: MeanPrior) -> Seen:
    return Seen(_share(sums, clean), mean_estimate(sums, prior))


def _share(sums: Sums, clean: Estimate) -> Estimate:
    return share_estimate(sums, SharePrior(clean.value, SORT_NOTES))


def _limits(rates: Mapping[str, Sums]) -> dict[str, Estimate]:
    bins: dict[str, list[Sums]] = {stroke: [] for stroke in PRIOR_HZ}
    for name, sums in rates.items():
        bins[stroke_of(name)].append(sums)
    return {stroke: limit_estimate(stroke, found) for stroke, found in bins.items()}
