"""How fast scales and ways of tonguing go clean, in notes a second.

The ceiling of a kind is the rate at which nine notes in ten can be expected to be clean, believed
as for a passage (`core/pace/belief`), of all takes of passages of that kind together: passages of
one scale are taken to be equally hard, so that it is the ceiling of what was played of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.core.pace.prior import EarlierTake, belief_from
from coach.core.profile.kinds import OfKinds

THRESHOLD = 0.9
# Fewer notes or takes say too little (design judgement); of more takes the last ones tell as much.
FEWEST_NOTES, FEWEST_TAKES, MOST_TAKES = 8, 5, 60


@dataclass(frozen=True, slots=True)
class KindCeiling:
    """Notes a second, with the 90 % interval; over how many passages and takes."""

    rate_hz: float
    low_hz: float
    high_hz: float
    passages: int
    takes: int

    def to_dict(self) -> dict[str, Any]:
        return {
            "notes_a_second": round(self.rate_hz, 2),
            "low": round(self.low_hz, 2),
            "high": round(self.high_hz, 2),
            "passages": self.passages,
            "takes": self.takes,
        }


@dataclass(frozen=True, slots=True)
class Ceilings:
    """By name of the scale ("G major") and of the tonguing ("ta ka"), the slowest first."""

    scales: Mapping[str, KindCeiling]
    tonguing: Mapping[str, KindCeiling]

    def to_dict(self) -> dict[str, Any]:
        return {
            "scales": {name: one.to_dict() for name, one in self.scales.items()},
            "tonguing": {name: one.to_dict() for name, one in self.tonguing.items()},
        }


def ceilings_of(rows: Iterable[OfKinds], today: int) -> Ceilings:
    """On day `today`, of takes in order of time.

    A kind is told from `FEWEST_TAKES` takes on; only takes with `FEWEST_NOTES` judged notes or more
    count, and only those whose notes to a click are known.
    """
    told = [
        row
        for row in rows
        if row.day <= today and row.counted >= FEWEST_NOTES and row.notes_a_click > 0
    ]
    return Ceilings(
        _by_kind(told, lambda row: row.scale, today),
        _by_kind(told, lambda row: row.tonguing, today),
    )


def _by_kind(
    rows: Iterable[OfKinds], kind_of: Callable[[OfKinds], str | None], today: int
) -> dict[str, KindCeiling]:
    kinds: dict[str, list[OfKinds]] = {}
    for row in rows:
        kind = kind_of(row)
        if kind is not None:
            kinds.setdefault(kind, []).append(row)
    found = {k: _ceiling(mine, today) for k, mine in kinds.items() if len(mine) >= FEWEST_TAKES}
    return dict(sorted(found.items(), key=lambda item: (item[1].rate_hz, item[0])))


def _ceiling(rows: Sequence[OfKinds], today: int) -> KindCeiling:
    used = rows[-MOST_TAKES:]
    rates_hz = [rate_hz(row) for row in used]
    takes = [
        EarlierTake(rate, row.clean, row.counted, today - row.day)
        for rate, row in zip(rates_hz, used, strict=True)
    ]
    belief = belief_from(min(rates_hz), max(rates_hz), THRESHOLD, takes)
    passages = len({(row.drill, row.title) for row in rows})
    return KindCeiling(belief.estimate_bpm, *belief.interval_bpm(), passages, len(rows))


def rate_hz(row: OfKinds) -> float:
    """The rate of its quick notes, in notes a second."""
    return row.notes_a_click * row.tempo_bpm / 60
