"""Small makers of plans and attacks for tests."""

from __future__ import annotations

from fractions import Fraction

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Passage, in_a_row
from coach.core.take import Attack, Evidence
from coach.core.timeline import Plan, plan_take

RATE = 48_000


def scale(start: int = 60, notes: int = 8) -> list[int]:
    """A major scale upwards, sounding pitches."""
    steps = [0, 2, 4, 5, 7, 9, 11]
    return [start + 12 * (k // 7) + steps[k % 7] for k in range(notes)]


def plan_of(
    pitches: list[int],
    *,
    length_beats: Fraction = Fraction(1, 2),
    tempo_bpm: float = 120.0,
    downbeat_frame: int = 2 * RATE,
    rate: int = RATE,
    click: ClickStyle | None = None,
) -> Plan:
    """Notes of one length, one after the other."""
    passage = Passage(in_a_row(pitches, length_beats), title="invented")
    exercise = Exercise(passage, tempo_bpm, transposition=-7, click=click or ClickStyle())
    return plan_take(exercise, rate, downbeat_frame)


def attacks_of(plan: Plan, late_frames: dict[int, int] | None = None) -> list[Attack]:
    """One right attack a due, some of them late."""
    late = late_frames or {}
    return [
        Attack(d.frame + late.get(d.index, 0), float(d.pitch), -20.0, rise_frames=480, fine=True)
        for d in plan.dues
    ]


def evidence_of(attacks: list[Attack], up_to_frame: int) -> Evidence:
    return Evidence(tuple(attacks), up_to_frame=up_to_frame)
