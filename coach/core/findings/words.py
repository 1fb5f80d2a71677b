"""Findings in sentences: which notes, which fingers, how many of how many, how late."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from coach.core.exercise import Exercise
from coach.core.findings.facts import TIMING, Fact
from coach.core.findings.questions import BACK, EXCHANGE, LEAP, NOTE, PITCH, SIDE, Question
from coach.core.findings.weigh import SMALLEST_LAG_MS, Split, lags
from coach.core.naming import note_name
from coach.core.pitch import written_of_sounding

# How a fault is told of a note.
FAULTS = {
    "missed": "not heard",
    "wrong": "on another pitch",
    "split": "cracked",
    "muffled": "muffled",
    "early": "early",
    "late": "late",
}
MOST_PAIRS = 2


@dataclass(frozen=True, slots=True)
class Scene:
    """Where a finding is seen: its notes in one exercise; `spots` counts those of all passages."""

    exercise: Exercise
    notes: tuple[int, ...]
    question: Question
    spots: int


def failing(scene: Scene, halves: Split) -> str:
    """ "Where 1 goes up while 2 goes down, between A4 and B4, 9 of 12 notes went wrong ..."."""
    faults, of = halves.faults, len(halves.inside)
    if scene.question.kind in (NOTE, PITCH):
        start = f"{_subject(scene)} went wrong {faults} of {of} times"
    else:
        start = f"{_place(scene)}, {faults} of {of} notes went wrong"
    slow = _slow_valves(halves)
    elsewhere = f"elsewhere {halves.faults_elsewhere} of {len(halves.outside)}"
    return f"{start}{_mostly(halves.inside)}{slow}; {elsewhere}.{_apart(scene)}"


def lagging(scene: Scene, halves: Split) -> str:
    """ "Where the thumb goes down, ..., the valves come 24 ms after the tongue; elsewhere 3 ms"."""
    inside, outside = lags(halves.inside), lags(halves.outside)
    return (
        f"{_place(scene)}, the valves come {median(inside):.0f} ms after the tongue; elsewhere "
        f"{median(outside):.0f} ms (middle of {len(inside)} and {len(outside)} notes)."
    )


def drifting(drift_ms: float, agreeing: int, takes: int) -> str:
    what = "You drag: you fall {} ms behind" if drift_ms > 0 else "You rush: you gain {} ms on"
    told = what.format(f"{abs(drift_ms):.0f}")
    return (
        f"{told} the click from the first note to the last, in {agreeing} of {takes} takes the "
        "same way."
    )


def nothing(faults: int, takes: int, more: int | None) -> str:
    """No pattern: what there is, and what would tell; `more` takes of the same passage."""
    many = f"{takes} takes" if takes != 1 else "one take"
    if not faults:
        return f"Nothing went wrong in {many}: there is nothing to look for."
    mistakes = f"the {faults} mistakes of {many}" if faults != 1 else f"the one mistake of {many}"
    start = f"No pattern yet: {mistakes} may lie anywhere by chance"
    if more is None:
        return f"{start}, and there are too many to tell one note from the others: slow down first."
    if more > 0:
        again = "one more take" if more == 1 else f"about {more} more takes"
        return (
            f"{start}. A note that fails every other time would show after {again} of one passage."
        )
    return f"{start}. A note that fails every other time would have shown by now."


def _subject(scene: Scene) -> str:
    name = _name(scene.exercise, scene.notes[0])
    if scene.question.kind == PITCH:
        return f"{name}, wherever it comes,"
    moves = [words for words in scene.question.also if words.startswith(("where", "after"))]
    there = f", {moves[0]}," if moves else ""
    return f"Note {scene.notes[0] + 1} ({name}){there}"


def _place(scene: Scene) -> str:
    where = scene.question.where
    opening = where[:1].upper() + where[1:]
    if scene.question.kind in (EXCHANGE, SIDE, LEAP):
        return f"{opening}, {_between(scene)}"
    if scene.question.kind == BACK:
        return f"{opening} ({_syllables(scene)})"
    return opening


def _between(scene: Scene) -> str:
    """ "between A4 and B4", of several pairs the first two and that there are more."""
    exercise = scene.exercise
    pairs = dict.fromkeys((_name(exercise, k - 1), _name(exercise, k)) for k in scene.notes)
    named = [f"{before} and {after}" for before, after in pairs][:MOST_PAIRS]
    more = ", and elsewhere" if len(pairs) > MOST_PAIRS or scene.spots > len(scene.notes) else ""
    return f"between {', '.join(named)}{more}"


def _syllables(scene: Scene) -> str:
    notes = scene.exercise.passage.notes
    return ", ".join(dict.fromkeys(notes[k].syllable or "" for k in scene.notes))


def _name(exercise: Exercise, index: int) -> str:
    passage = exercise.passage
    written = written_of_sounding(passage.notes[index].pitch, exercise.transposition)
    return note_name(written, passage.fifths)


def _mostly(facts: Sequence[Fact]) -> str:
    """What went wrong, if it was the same more often than not; how far, for early and late."""
    kinds = Counter(fact.kind for fact in facts if fact.fault)
    kind, count = kinds.most_common(1)[0]
    if 2 * count <= kinds.total():
        return ""
    share = "all of them" if count == kinds.total() else "most of them"
    if kind not in TIMING:
        return f", {share} {FAULTS[kind]}"
    off = [abs(f.deviation_ms) for f in facts if f.kind == kind and f.deviation_ms is not None]
    return f", {share} {FAULTS[kind]}, by {median(off):.0f} ms"


def _slow_valves(halves: Split) -> str:
    """That the valves lag there, if they do."""
    inside, outside = lags(halves.inside), lags(halves.outside)
    if not inside or not outside or median(inside) - median(outside) < SMALLEST_LAG_MS:
        return ""
    return f" (the valves {median(inside):.0f} ms after the tongue)"


def _apart(scene: Scene) -> str:
    also = scene.question.also
    if not also or scene.question.kind == NOTE:
        return ""
    return f" The same notes are those {also[0]}: these takes can't tell the two apart."
