"""Ensembles, plans with changing tempo, and the voicings they are tried with."""

from __future__ import annotations

from fractions import Fraction

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Passage, in_a_row
from coach.core.timeline import Plan, plan_take
from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.warp import Warp, ramp

RATE = 48_000
THIRD = Fraction(1, 3)
# A faster part, a ritardando in quarters of a beat, a fermata at its end, and back to the tempo.
CHANGING = Warp(
    (
        (Fraction(0), Fraction(1)),
        (Fraction(3), Fraction(7, 5)),
        *ramp(Fraction(6), Fraction(8), Fraction(7, 5), Fraction(3, 4), Fraction(1, 4)),
        (Fraction(8), Fraction(1)),
    ),
    ((Fraction(8), Fraction(3, 2)),),
)


def plan_at(tempo_bpm: float, warp: Warp | None = CHANGING, level_db: float = -12.0) -> Plan:
    passage = Passage(in_a_row([65] * 12, Fraction(1)), title="invented")
    click = ClickStyle(level_db=level_db)
    return plan_take(Exercise(passage, tempo_bpm, click=click, warp=warp), RATE, 3 * RATE)


def apart(program: int, *, velocity: int = 80) -> Voice:
    """Short notes with rests between, on and off the beats."""
    places = [Fraction(0), 1 + THIRD, Fraction(5, 2), 4 + 2 * THIRD, Fraction(13, 2), Fraction(8)]
    notes = tuple(
        Sounded(start, Fraction(1, 8), 60 + k, velocity)
        for k, start in enumerate([*places, Fraction(29, 3), Fraction(11)])
    )
    return Voice(f"program {program}", program, notes)


def chord(program: int, *pitches: int, velocity: int = 80) -> Voice:
    """Two chords of four beats, joined."""
    starts = (Fraction(0), Fraction(4))
    return Voice(
        f"program {program}",
        program,
        tuple(Sounded(start, Fraction(4), p, velocity) for start in starts for p in pitches),
    )


def band(*voices: Voice, own: int = 0) -> Ensemble:
    return Ensemble(voices, own, Fraction(12), warp=CHANGING)
