"""What the fingers must do for a line, phrase by phrase, as the planner would have it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from coach.core.fingering.ask import problem_of
from coach.core.fingering.candidates import Candidate, candidates
from coach.core.fingering.moves import move_between
from coach.core.fingering.planner import plans
from coach.core.fingering.problem import FingeringPlan, Problem
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.passage import Note, Passage
from coach.core.score.paced import PacedNote

Planned = tuple[Problem, FingeringPlan]

# A phrase ends where so many quarter notes pass between two notes.  It is counted in beats so that
# the same music is fingered the same way at any tempo.
PHRASE_GAP_BEATS = Fraction(3, 2)
# Longer phrases are planned in pieces: this bounds the time.
MOST_NOTES = 200
# What counts here of configs/fingering.toml; how a note sounds (intonation, clarity) does not.
FINGER_TERMS = (
    "fingers", "exchanges", "side_changes", "slide", "measured", "second_third", "ring_finger",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FingerWork:
    """What leads to a note: its cost as in configs/fingering.toml, whether valves pass each other,
    and how many partials lie between the two on one tube."""

    cost: float = 0.0
    exchange: bool = False
    partials: int = 0


NO_WORK = FingerWork()


def finger_work(
    notes: Sequence[PacedNote], instrument: Instrument, weights: Weights, free_hz: float
) -> tuple[FingerWork, ...]:
    """One a note; nothing where it follows at less than `free_hz`, or where the instrument has no
    fingering for it."""
    works = [NO_WORK] * len(notes)
    plan_of: dict[tuple[Note, ...], Planned] = {}
    for start, end in _phrases(notes, instrument):
        phrase = notes[start:end]
        if any(each.rate_hz >= free_hz for each in phrase[1:]):
            passage = _passage(phrase)
            if passage.notes not in plan_of:
                plan_of[passage.notes] = _planned(passage, instrument, weights)
            works[start:end] = _works(phrase, *plan_of[passage.notes])
    return tuple(
        work if each.rate_hz >= free_hz else NO_WORK
        for each, work in zip(notes, works, strict=True)
    )


def _phrases(notes: Sequence[PacedNote], instrument: Instrument) -> Iterator[tuple[int, int]]:
    """Where phrases begin and end; notes that have no fingering are in none."""
    reached = {pitch: bool(candidates(instrument, pitch)) for pitch in _pitches(notes)}
    start = 0
    for k, each in enumerate(notes):
        if not reached[each.note.sounding]:
            if start < k:
                yield start, k
            start = k + 1
        elif start < k and (k - start == MOST_NOTES or _gap_beats(notes, k) >= PHRASE_GAP_BEATS):
            yield start, k
            start = k
    if start < len(notes):
        yield start, len(notes)


def _pitches(notes: Sequence[PacedNote]) -> set[int]:
    return {each.note.sounding for each in notes}


def _gap_beats(notes: Sequence[PacedNote], k: int) -> Fraction:
    return notes[k].note.onset - notes[k - 1].note.onset


def _passage(phrase: Sequence[PacedNote]) -> Passage:
    """The phrase from beat 0 on."""
    first = phrase[0].note.onset
    notes = (each.note for each in phrase)
    return Passage(tuple(Note(n.sounding, n.onset - first, n.length, n.slurred) for n in notes))


def _planned(passage: Passage, instrument: Instrument, weights: Weights) -> Planned:
    """Fingered as if its closest notes were in a hurry, so that a plan does not hang on the tempo
    and a faster one never makes the fingers' work less.

    Figures that return need not have the same valves here: looking for them takes the planner four
    times as long, for a term that says nothing of how hard the notes are.
    """
    starts = [note.start_beats for note in passage.notes]
    closest = min(after - before for before, after in pairwise(starts))
    tempo_bpm = 60 * float(closest) / weights.hurried_gap_s
    problem = problem_of(passage, tempo_bpm, instrument, weights)
    problem = replace(problem, spots=tuple(replace(spot, image=None) for spot in problem.spots))
    return problem, plans(problem)[0]


def _works(
    phrase: Sequence[PacedNote], problem: Problem, plan: FingeringPlan
) -> Iterator[FingerWork]:
    """What the plan asks for at the tempo of the phrase."""
    gaps_s = [each.before_s for each in phrase[1:]] + [problem.weights.long_note_s]
    spots = tuple(
        replace(spot, before_s=each.before_s, gap_s=gap_s, fresh=k == 0)
        for k, (spot, each, gap_s) in enumerate(zip(problem.spots, phrase, gaps_s, strict=True))
    )
    costs = replace(problem, spots=spots).costs(plan.chosen)
    before = None
    for chosen, terms in zip(plan.chosen, costs, strict=True):
        cost = sum(terms.get(name, 0.0) for name in FINGER_TERMS)
        work = _work(before, chosen, cost)
        yield replace(work, exchange=False) if problem.slide else work
        before = chosen


def _work(before: Candidate | None, chosen: Candidate, cost: float) -> FingerWork:
    if before is None:
        return FingerWork(cost)
    move = move_between(before.fingering, chosen.fingering)
    crossed = abs(chosen.partial - before.partial) if before.side == chosen.side else 0
    return FingerWork(cost, bool(move and move.exchanges), crossed)
