"""Takes of simulated players: a plan, an attack for each note, the judge's report."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from random import Random

from coach.core.exercise import Exercise
from coach.core.passage import Note, Passage
from coach.core.report import Report, report_of
from coach.core.rules import Rules
from coach.core.take import Attack, Verdict
from coach.core.timeline import Plan, plan_take
from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.verdicts import Context
from coach.core.warp import Warp

RATE, DOWNBEAT = 48_000, 96_000
EIGHTH = Fraction(1, 2)


def notes_of(
    pitches: Sequence[int | None], length: Fraction = EIGHTH, start: Fraction = Fraction(0)
) -> tuple[Note, ...]:
    return tuple(
        Note(pitch, start + k * length, length, fingering=("0", "12", "T1")[pitch % 3])
        for k, pitch in enumerate(pitches)
        if pitch is not None
    )


def plan_of(
    notes: Sequence[Note], tempo_bpm: float = 120.0, warp: Warp | None = None, first_bar: int = 1
) -> Plan:
    passage = Passage(tuple(notes), "Invented", first_bar=first_bar)
    return plan_take(Exercise(passage, tempo_bpm, -7, warp=warp), RATE, DOWNBEAT)


def voice(name: str, notes: Sequence[Note]) -> Voice:
    return Voice(name, 60, tuple(Sounded(n.start_beats, n.length_beats, n.pitch) for n in notes))


def sounding_at(voices: Sequence[Voice], beat: Fraction) -> list[tuple[int, Sounded]]:
    """(number of the voice, note) of all that sounds at `beat`, its start with it."""
    return [
        (number, note)
        for number, voice in enumerate(voices)
        for note in voice.notes
        if note.start_beats <= beat < note.end_beats
    ]


def ensemble_of(plan: Plan, *others: Voice) -> Ensemble:
    passage = plan.exercise.passage
    own = voice("own", passage.notes)
    return Ensemble((own, *others), 0, passage.length_beats, warp=plan.exercise.warp)


def take(
    plan: Plan,
    off_ms: Callable[[int], float] = lambda k: 0.0,
    *,
    missed: Sequence[int] = (),
    cents: Callable[[int], float] = lambda k: 0.0,
    level_db: Callable[[int], float] = lambda k: -20.0,
) -> Report:
    """What is heard of a player who is that late (ms) on each note."""
    verdicts = []
    for k, due in enumerate(plan.dues):
        if k in missed:
            verdicts.append(Verdict(k, "missed", due, None))
            continue
        off = round(off_ms(k) * RATE / 1000)
        pitch = due.pitch + cents(k) / 100
        attack = Attack(due.frame + off, pitch, level_db(k), fine=True)
        verdicts.append(Verdict(k, "clean", due, attack, off, due.pitch, cents(k), 0.0))
    return report_of(verdicts, (), (), Context(), Rules(), RATE)


def noise(rng: Random, count: int, sd_ms: float, alike: float = 0.0) -> list[float]:
    """Errors of a player; with `alike`, each takes after the one before."""
    made = [rng.gauss(0, sd_ms)]
    while len(made) < count:
        made.append(alike * made[-1] + rng.gauss(0, sd_ms * (1 - alike**2) ** 0.5))
    return made
