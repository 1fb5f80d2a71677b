"""The warm-up laid out over the minutes: kinds in order, rests as long as playing, loads kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from coach.core.course import Course, CoursePart, blowing_s, length_s
from coach.core.exercise import Drill
from coach.core.filling import Limit, Slot, filled, resting, stretched
from coach.core.gate import Gate
from coach.core.instrument import Instrument
from coach.core.warmup.limits import KINDS, KindShare, WarmupLimits
from coach.core.warmup.lines import patterns, scales, slurs, tonguing
from coach.core.warmup.making import Day
from coach.core.warmup.reach import Reach, check_comfortable
from coach.core.warmup.tones import attacks, long_tones, range_parts, swells

SHORTEST_MINUTES, LONGEST_MINUTES = 5, 60
MOST_WEAK_SHARE = 1 / 3
Maker = Callable[[Day, int, float], CoursePart]
_MAKERS: dict[str, Maker] = {
    "long-tones": long_tones,
    "slurs": slurs,
    "swells": swells,
    "attacks": attacks,
    "scales": scales,
    "patterns": patterns,
    "tonguing": tonguing,
}
# A part grows past what it was to last where others are kept back by a limit.
_ROOM = 1.25


@dataclass(frozen=True, slots=True)
class WeakSpot:
    """A drill on what the player finds hard; `weight` is its share beside the other weak spots."""

    drill: Drill
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.weight) and self.weight > 0):
            raise ValueError(f"the weight of {self.drill.name} must be above 0")


def plan_warmup(
    instrument: Instrument,
    *,
    minutes: float,
    day_seed: int,
    comfortable: tuple[int, int],
    weak: Sequence[WeakSpot] = (),
    limits: WarmupLimits,
) -> Course:
    """The warm-up of the day numbered `day_seed`: the same number gives the same plan, the next one
    another.

    `comfortable` is sounding (low, high); only the range part goes beyond it, and weak spots lie
    where they lie.  It lasts `minutes`, rests included.  ValueError where minutes, comfortable
    range or weak spots are out of bounds.
    """
    if not SHORTEST_MINUTES <= minutes <= LONGEST_MINUTES:
        raise ValueError(f"a warm-up lasts {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes")
    check_comfortable(instrument, comfortable)
    _check_weak(instrument, weak)
    day = Day(Reach(instrument, *comfortable), day_seed, limits.outside_semitones)
    slots = _slots(day, minutes, weak, limits)
    parts = filled(slots, 60 * minutes, limits.resting, _loads(day.reach, minutes, limits))
    if not parts:
        raise ValueError("with so much rest not even one take fits into a part")
    return Course(f"Warm-up, {minutes:g} minutes", stretched(parts, 60 * minutes))


def _check_weak(instrument: Instrument, weak: Sequence[WeakSpot]) -> None:
    for spot in weak:
        notes = [note for passage in spot.drill.variants for note in passage.notes]
        if not notes or not all(instrument.reaches(note.pitch) for note in notes):
            raise ValueError(f'"{spot.drill.title}" does not lie on the {instrument.title}')


def _slots(day: Day, minutes: float, weak: Sequence[WeakSpot], limits: WarmupLimits) -> list[Slot]:
    """What is to be played, in order."""
    kinds = {kind.kind: kind for kind in limits.kinds if kind.from_minutes <= minutes}
    own = kinds.pop("weak", None)
    own = own if weak else None
    whole = sum(kind.share for kind in kinds.values())
    weak_s = 60 * minutes * own.share if own else 0.0
    slots: list[Slot] = []
    for name in KINDS:
        if name in kinds:
            wanted_s = (60 * minutes - weak_s) * kinds[name].share / whole
            slots += _of_kind(day, kinds[name], wanted_s, limits)
        elif name == "weak" and own:
            slots += _weak_slots(weak_s, weak, limits)
    return slots


def _of_kind(day: Day, kind: KindShare, wanted_s: float, limits: WarmupLimits) -> list[Slot]:
    """The time of one kind in parts, none longer than `part_minutes`."""
    if kind.kind == "range":
        parts = range_parts(day, kind.tempo_bpm)
    else:
        make = _MAKERS[kind.kind]
        parts = [make(day, k, kind.tempo_bpm) for k in range(_number(wanted_s, limits))]
    rested = [replace(part, drill=resting(part.drill, limits.resting)) for part in parts]
    return [
        Slot(part, wanted_s / len(parts), 60 * limits.part_minutes, rank=kind.share)
        for part in rested
    ]


def _weak_slots(wanted_s: float, weak: Sequence[WeakSpot], limits: WarmupLimits) -> list[Slot]:
    """The weak spots by weight, by turns where one needs several parts."""
    whole = sum(spot.weight for spot in weak)
    slots: list[tuple[int, Slot]] = []
    for spot in weak:
        each_s = wanted_s * spot.weight / whole
        number = _number(each_s, limits)
        part = _weak_part(spot.drill, limits)
        slot = Slot(part, each_s / number, 60 * limits.part_minutes, rank=spot.weight / whole)
        slots += [(turn, slot) for turn in range(number)]
    return [slot for _, slot in sorted(slots, key=lambda entry: entry[0])]


def _number(wanted_s: float, limits: WarmupLimits) -> int:
    """Into how many parts the time goes, with room for a take more than wanted."""
    return math.ceil(wanted_s * _ROOM / (60 * limits.part_minutes))


def _weak_part(drill: Drill, limits: WarmupLimits) -> CoursePart:
    gate = Gate(drill.gate.threshold)
    still = resting(replace(drill, to_bpm=drill.from_bpm, gate=gate), limits.resting)
    why = f'"{drill.title}" has gone wrong before: now slowly, while nothing depends on it.'
    return CoursePart(still, 1, 0.0, why)


def _is_weak(part: CoursePart) -> bool:
    return not part.drill.name.startswith("warmup-")


def _loads(reach: Reach, minutes: float, limits: WarmupLimits) -> list[Limit]:
    """Notes above the comfortable range, growing loud, and weak spots: in seconds."""

    def above_s(part: CoursePart) -> float:
        return blowing_s(part, lambda note: note.pitch > reach.high)

    def loud_s(part: CoursePart) -> float:
        return blowing_s(part) if part.drill.name == "warmup-swells" else 0.0

    def weak_s(part: CoursePart) -> float:
        return length_s(part) if _is_weak(part) else 0.0

    share = minutes / LONGEST_MINUTES
    return [
        Limit(weak_s, 60 * minutes * MOST_WEAK_SHARE),
        Limit(above_s, 60 * limits.above_minutes * share),
        Limit(loud_s, 60 * limits.loud_minutes * share),
    ]
