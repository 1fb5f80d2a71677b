"""One day of speed building: the steps of its stage, passages by turns, a good end."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from random import Random

from coach.core.building.settings import STEPS, BuildingSettings, StepShare
from coach.core.building.steps import part_of
from coach.core.building.today import Today, is_plain, today
from coach.core.course import Course, CoursePart, blowing_s, length_s
from coach.core.exercise import Drill
from coach.core.filling import Limit, Slot, filled, resting
from coach.core.instrument import Instrument

SHORTEST_MINUTES, LONGEST_MINUTES = 10, 60
SLOWEST_GOAL_BPM, FASTEST_GOAL_BPM = 10, 400
MOST_DAYS = 30
CAUTION = (
    "Stop where lips, jaw or hands tire or hurt: a tired day builds nothing, and your teacher or a"
    " doctor knows better than a program."
)
# Where rounds of the pieces fill less than this of the day, there is one more.
FULL_SHARE, MOST_ROUNDS = 0.9, 3
_OPENING, _CLOSING = ("slow",), ("gate", "above", "end")
_ONCE = (*_OPENING, *_CLOSING)
# The whole passage comes before all pieces where there is little time.
_NEEDED = ("end", "above")


def plan_building(
    passage_drills: Sequence[Drill],
    instrument: Instrument,
    *,
    to_bpm: float,
    day: int,
    days: int,
    ceiling_bpm: Mapping[str, float] | None,
    seed: int,
    minutes: float,
    settings: BuildingSettings,
) -> Course:
    """Day `day` (from 1) of the way to `to_bpm` clicks over `days` days, of `minutes` at most.

    `ceiling_bpm` says by drill name the tempo that goes today.  Several passages come by turns, in
    an order that `seed` and the day give.  ValueError where something is out of bounds, or a
    passage is too long for its share of the day.
    """
    _check(passage_drills, to_bpm, day, days, ceiling_bpm or {}, minutes)
    known = ceiling_bpm or {}
    standing = [
        today(drill, instrument, day, days, to_bpm, known.get(drill.name), settings)
        for drill in passage_drills
    ]
    order = _shuffled(standing, Random(f"{seed} {day}"))
    stage = settings.stage(day, days)
    steps = {step.step: step for step in settings.steps if stage in step.stages}
    parts = _parts(order, steps, day, minutes, settings)
    _check_ends(order, parts)
    first = replace(parts[0], caution=CAUTION)
    return Course(_title(passage_drills, to_bpm, day, days), (first, *parts[1:]))


def _check(
    drills: Sequence[Drill],
    to_bpm: float,
    day: int,
    days: int,
    ceilings: Mapping[str, float],
    minutes: float,
) -> None:
    if not SLOWEST_GOAL_BPM <= to_bpm <= FASTEST_GOAL_BPM:
        bounds = f"{SLOWEST_GOAL_BPM} to {FASTEST_GOAL_BPM}"
        raise ValueError(f"a goal lies from {bounds} clicks a minute")
    if not 1 <= days <= MOST_DAYS:
        raise ValueError(f"a way to a tempo takes 1 to {MOST_DAYS} days")
    if not 1 <= day <= days:
        raise ValueError(f"there are days 1 to {days}, no day {day}")
    if not SHORTEST_MINUTES <= minutes <= LONGEST_MINUTES:
        raise ValueError(f"a day of it lasts {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes")
    if not drills:
        raise ValueError("there is no passage to build")
    if len({drill.name for drill in drills}) < len(drills):
        raise ValueError("the same passage is given twice")
    for drill in drills:
        if not any(is_plain(passage) for passage in drill.variants):
            raise ValueError(f'"{drill.title}" has nothing that is played at the drill\'s tempo')
    for name, bpm in ceilings.items():
        if not (math.isfinite(bpm) and bpm > 0):
            raise ValueError(f"the tempo that goes in {name} must be above 0")


def _shuffled(standing: Sequence[Today], chance: Random) -> list[Today]:
    """By turns in one order all day long, so that no passage comes twice in a row.

    Turns beat blocks on the next day in a study of 41 beginning clarinetists (Stambaugh 2011,
    J. Res. Music Educ. 58:368); another of 19 beginners found no difference.
    """
    order = list(standing)
    chance.shuffle(order)
    return order


def _parts(
    order: Sequence[Today],
    steps: Mapping[str, StepShare],
    day: int,
    minutes: float,
    settings: BuildingSettings,
) -> tuple[CoursePart, ...]:
    """As much as fills the day: of short passages the pieces come in several rounds."""
    limits = [Limit(blowing_s, 60 * settings.load_minutes)]
    parts: tuple[CoursePart, ...] = ()
    for rounds in range(1, MOST_ROUNDS + 1):
        slots = list(_slots(order, steps, rounds, day, minutes, settings))
        parts = filled(slots, 60 * minutes, settings.rest_ratio, limits)
        if sum(length_s(part) for part in parts) >= FULL_SHARE * 60 * minutes:
            break
    return parts


def _slots(
    order: Sequence[Today],
    steps: Mapping[str, StepShare],
    rounds: int,
    day: int,
    minutes: float,
    settings: BuildingSettings,
) -> Iterator[Slot]:
    """Step by step, and in each the passages by turns; the steps that a passage is too short for
    leave their time to the others."""
    whole = sum(step.share for step in steps.values())
    for turn, name in _in_rounds(steps, rounds):
        step = steps[name]
        shared = len(order) * (rounds if name not in _ONCE else 1)
        wanted_s = 60 * minutes * step.share / whole / shared
        for place, standing in enumerate(order):
            part = part_of(name, standing, day - 1 + turn + place)
            if part is not None:
                rested = replace(part, drill=resting(part.drill, settings.rest_ratio))
                rank = step.share + (name in _NEEDED)
                most_s = 60 * settings.part_minutes
                yield Slot(rested, wanted_s, most_s, step.most_takes, rank)


def _in_rounds(steps: Mapping[str, StepShare], rounds: int) -> list[tuple[int, str]]:
    """The names of the steps in order, with the number of the round."""
    names = [name for name in STEPS if name in steps]
    opening = [(0, name) for name in names if name in _OPENING]
    closing = [(0, name) for name in names if name in _CLOSING]
    pieces = [name for name in names if name not in _ONCE]
    return [*opening, *((turn, name) for turn in range(rounds) for name in pieces), *closing]


def _check_ends(order: Sequence[Today], parts: Sequence[CoursePart]) -> None:
    """Whether each passage has its whole runs at the end."""
    ends = {(part.drill.name, part.drill.from_bpm) for part in parts[-len(order) :]}
    for standing in order:
        if (standing.drill.name, standing.end_bpm) not in ends:
            what = f'"{standing.drill.title}" is too long for its share of the time'
            raise ValueError(f"{what}: take more minutes, or fewer or shorter passages")


def _title(drills: Sequence[Drill], to_bpm: float, day: int, days: int) -> str:
    titles = " and ".join(drill.title for drill in drills)
    return f"{titles} to {to_bpm:g}, day {day} of {days}"
