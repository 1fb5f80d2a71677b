"""Facts: every judged note of several takes, with what stood around it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from coach.core.exercise import Exercise
from coach.core.fingering.moves import FingerMove, move_between
from coach.core.passage import Note, Passage
from coach.core.report import Report
from coach.core.take import Verdict
from coach.core.tonguing.style import Style

# A fifth: where many players no longer feel the next note as a neighbour (common practice, no
# source).
LEAP_SEMITONES = 7
TIMING = ("early", "late")

# Fingerings of a passage note by note, None where there is none.
Fingerings = Callable[[Exercise], Sequence[str | None]]
# A note of a passage: which passage of those played, which note of it.
Spot = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Judged:
    """One take: what was to be played, how it was judged, and frames a second."""

    exercise: Exercise
    report: Report
    rate: int


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands around a note, the same in every take of its passage.

    `leap` is counted in semitones from the note before (0 for the first, and after a rest);
    `position` in the beat counts from 0, which is on the beat; `back`: its syllable is a back one.
    `move`: what the fingers do to reach it, None where that is not known.
    """

    pitch: int
    move: FingerMove | None
    leap: int
    back: bool
    slurred: bool
    second_half: bool
    position: int


@dataclass(frozen=True, slots=True)
class Fact:
    """One judged note of one take; `at_pulses` is its place in clicks from the downbeat."""

    take: int
    spot: Spot
    kind: str
    deviation_ms: float | None
    lag_ms: float | None
    level_db: float | None
    at_pulses: float
    tempo_bpm: float

    @property
    def fault(self) -> bool:
        return self.kind not in ("clean", "unsure")


@dataclass(frozen=True, slots=True)
class Material:
    """All takes laid out: the passages played, with one exercise each, the places, the facts."""

    exercises: tuple[Exercise, ...]
    places: dict[Spot, Surroundings]
    facts: tuple[Fact, ...]
    takes: int


def facts_of(takes: Sequence[Judged], fingerings: Fingerings | None = None) -> Material:
    """Lay out the takes; `fingerings` is asked where a passage has none written in it.

    Takes are of the same passage if all their notes, syllables and fingerings are the same.
    """
    exercises: list[Exercise] = []
    keys: list[tuple[Note, ...]] = []
    places: dict[Spot, Surroundings] = {}
    facts: list[Fact] = []
    for number, take in enumerate(takes):
        notes = take.exercise.passage.notes
        if notes not in keys:
            keys.append(notes)
            exercises.append(take.exercise)
            passage = len(keys) - 1
            for index, place in enumerate(_places(take.exercise, fingerings)):
                places[passage, index] = place
        facts += _facts(number, keys.index(notes), take)
    return Material(tuple(exercises), places, tuple(facts), len(takes))


def is_back(syllable: str) -> bool:
    """Whether the back of the tongue says it."""
    return Style().is_back(syllable)


def _places(exercise: Exercise, fingerings: Fingerings | None) -> list[Surroundings]:
    passage = exercise.passage
    written = [note.fingering for note in passage.notes]
    fingers = list(fingerings(exercise)) if fingerings and not any(written) else written
    return [_place(passage, k, fingers) for k in range(len(passage.notes))]


def _place(passage: Passage, k: int, fingers: Sequence[str | None]) -> Surroundings:
    note = passage.notes[k]
    before = passage.notes[k - 1] if k else None
    joined = before is not None and before.end_beats == note.start_beats
    return Surroundings(
        note.pitch,
        move_between(fingers[k - 1], fingers[k]) if joined else None,
        note.pitch - before.pitch if joined and before else 0,
        is_back(note.syllable or ""),
        note.slurred,
        2 * k >= len(passage.notes),
        _position(passage, k),
    )


def _position(passage: Passage, k: int) -> int:
    """Which note of its beat: 0 on the beat, the first after a silent beat 1."""
    notes, pulse = passage.notes, passage.pulse_beats
    beat = notes[k].start_beats // pulse * pulse
    first = k
    while first and notes[first - 1].start_beats >= beat:
        first -= 1
    return k - first + (notes[first].start_beats != beat)


def _facts(take: int, passage: int, judged: Judged) -> list[Fact]:
    notes, pulse = judged.exercise.passage.notes, judged.exercise.passage.pulse_beats
    per_ms = judged.rate / 1000
    return [
        Fact(
            take,
            (passage, verdict.index),
            verdict.kind,
            None if verdict.deviation_frames is None else verdict.deviation_frames / per_ms,
            _lag_ms(verdict, per_ms),
            verdict.level_db,
            float(notes[verdict.index].start_beats / pulse),
            judged.exercise.tempo_bpm,
        )
        for verdict in judged.report.verdicts
    ]


def _lag_ms(verdict: Verdict, per_ms: float) -> float | None:
    attack = verdict.attack
    return None if attack is None or attack.lag_frames is None else attack.lag_frames / per_ms
