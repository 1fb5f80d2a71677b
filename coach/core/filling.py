"""Filling a given time with parts: who is shortest of its share gets the next take."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from coach.core.course import CoursePart, blowing_s, length_s, resting_s
from coach.core.exercise import Drill

SHORTEST_REST_S = 5.0


@dataclass(frozen=True, slots=True)
class Slot:
    """A part that may be planned: `part` with its takes still to be chosen.

    It is to last `wanted_s` seconds and at most `most_s` and `most_takes`.  Of slots that still
    have nothing the one with the highest `rank` comes first.
    """

    part: CoursePart
    wanted_s: float
    most_s: float = math.inf
    most_takes: int = 100
    rank: float = 0.0


@dataclass(frozen=True, slots=True)
class Limit:
    """No more than `most` of what `measure` finds in a part, all parts together."""

    measure: Callable[[CoursePart], float]
    most: float


@dataclass(frozen=True, slots=True)
class _Cost:
    """A part as it would be, how long it lasts and what it takes of each limit."""

    part: CoursePart | None
    length_s: float
    loads: tuple[float, ...]


def resting(drill: Drill, rest_ratio: float) -> Drill:
    """The drill with pauses between takes of at least `rest_ratio` times what a take blows."""
    most_s = max(_missing_s(drill, place, rest_ratio) for place in range(len(drill.variants)))
    pulses = math.ceil(most_s * drill.from_bpm / 60 - 1e-9)
    return replace(drill, rest_beats=max(drill.rest_beats, pulses))


def _missing_s(drill: Drill, place: int, rest_ratio: float) -> float:
    alone = CoursePart(replace(drill, variants=drill.variants[place : place + 1]), 1, 0.0, "")
    return rest_ratio * blowing_s(alone) - resting_s(alone)


def with_takes(part: CoursePart, takes: int, rest_ratio: float) -> CoursePart:
    """The part with so many takes and whole seconds of rest after it: together with its pauses at
    least `rest_ratio` times what it blows.

    The gate counts to `takes`, so that a part that stays at one tempo does not end sooner.
    """
    drill = part.drill
    if drill.from_bpm == drill.to_bpm:
        gate = replace(drill.gate, passes=takes, back_after=max(drill.gate.back_after, takes))
        drill = replace(drill, gate=gate)
    bare = replace(part, drill=drill, takes=takes, rest_s=0.0)
    rest_s = math.ceil(rest_ratio * blowing_s(bare) - resting_s(bare) - 1e-9)
    return replace(bare, rest_s=max(SHORTEST_REST_S, float(rest_s)))


def filled(
    slots: Sequence[Slot], total_s: float, rest_ratio: float, limits: Sequence[Limit] = ()
) -> tuple[CoursePart, ...]:
    """Parts in the order of the slots, no longer than `total_s` and within the limits together.

    Take by take the slot that lacks most of what it wants gets one more; slots for which there is
    no time left fall out.
    """
    chosen = [_Cost(None, 0.0, (0.0,) * len(limits)) for _ in slots]
    tried: dict[tuple[int, int], _Cost] = {}

    def grown(place: int) -> _Cost:
        takes = _takes(chosen[place]) + 1
        if (place, takes) not in tried:
            part = with_takes(slots[place].part, takes, rest_ratio)
            loads = tuple(limit.measure(part) for limit in limits)
            tried[place, takes] = _Cost(part, length_s(part), loads)
        return tried[place, takes]

    while True:
        fitting = [
            p for p in range(len(slots)) if _fits(grown(p), p, chosen, slots, total_s, limits)
        ]
        if not fitting:
            return tuple(cost.part for cost in chosen if cost.part is not None)
        place = min(fitting, key=lambda p: _turn(chosen[p], slots[p]))
        chosen[place] = grown(place)


def _takes(cost: _Cost) -> int:
    return 0 if cost.part is None else cost.part.takes or 0


def _turn(cost: _Cost, slot: Slot) -> tuple[float, float]:
    """What is least gets the next take."""
    return cost.length_s / slot.wanted_s, -slot.rank


def _fits(
    cost: _Cost,
    place: int,
    chosen: Sequence[_Cost],
    slots: Sequence[Slot],
    total_s: float,
    limits: Sequence[Limit],
) -> bool:
    slot = slots[place]
    if cost.length_s > slot.most_s or _takes(cost) > slot.most_takes:
        return False
    others = [c for p, c in enumerate(chosen) if p != place]
    if cost.length_s + sum(c.length_s for c in others) > total_s:
        return False
    return all(
        cost.loads[k] + sum(c.loads[k] for c in others) <= limit.most
        for k, limit in enumerate(limits)
    )


def stretched(parts: Sequence[CoursePart], total_s: float) -> tuple[CoursePart, ...]:
    """What is left of the time goes to the rests, in whole seconds."""
    left_s = total_s - sum(length_s(part) for part in parts)
    each_s = left_s // len(parts) if parts else 0
    return tuple(replace(part, rest_s=part.rest_s + each_s) for part in parts)
