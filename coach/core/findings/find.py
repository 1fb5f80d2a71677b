"""The pattern in the mistakes of several takes, with the chance that there is none.

Of pattern-free takes at most one session in twenty gives any finding (ALPHA).  Two fifths of that
are kept for rushing and dragging, where each take is one observation, and the rest for all
questions about groups of notes, corrected for their number (Holm).  Within that:

- each take is held by itself, so that a bad take makes no pattern;
- a note right after a fault is not counted, so that one stumble is one fault;
- a group of notes must stand out as a group, not by one note in it;
- what an accepted finding explains is taken out, and the next must stand without it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from coach.core.findings import words
from coach.core.findings.facts import Fact, Fingerings, Judged, Material, facts_of
from coach.core.findings.questions import Question, questions, questions_of_moves
from coach.core.findings.stats import binomial_tail, holm
from coach.core.findings.weigh import (
    SMALLEST_LAG_MS,
    Split,
    chance_of_drift,
    chance_of_faults,
    chance_of_lag,
    counted,
    drifts_ms,
    lags,
    split,
)
from coach.core.passage import Passage

ALPHA = 0.05
DRIFT_SHARE = 0.4
RUSHING, DRAGGING = "rushing", "dragging"
# What the outlook counts with: a note that fails every other time, found in four sessions of five.
FAILS, POWER, MOST_TAKES = 0.5, 0.8, 60


@dataclass(frozen=True, slots=True)
class Finding:
    """One pattern: its `kind`, the sentence for the player, and the chance of seeing it without
    there being one, corrected for all that was asked.

    `count` of `of` notes went wrong (rushing and dragging: takes; slow valves: notes late by
    more than elsewhere); `notes` are those concerned in `passage`, where it is seen most.
    """

    kind: str
    sentence: str
    chance: float
    count: int
    of: int
    passage: Passage
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question with its test and the chance found, plain and corrected."""

    question: Question
    test: Callable[[Split], float]
    chance: float
    corrected: float


def find(takes: Sequence[Judged], *, fingerings: Fingerings | None = None) -> tuple[Finding, ...]:
    """The patterns that hold, strongest first; empty where chance explains the mistakes.

    `fingerings` gives those of a passage that has none written in it.
    """
    material = facts_of(takes, fingerings)
    drift = _drifting(material)
    facts = counted(material, timing=not drift)
    found = [*drift, *(_told(asked, facts, material) for asked in _standing(material, facts))]
    return tuple(sorted(found, key=lambda finding: finding.chance))


def _drifting(material: Material) -> list[Finding]:
    drifts = drifts_ms(material)
    chance = chance_of_drift(drifts) / DRIFT_SHARE
    if chance > ALPHA:
        return []
    middle = median(drifts)
    agreeing = sum(drift * middle > 0 for drift in drifts)
    passage = Counter(fact.spot[0] for fact in material.facts).most_common(1)[0][0]
    return [
        Finding(
            DRAGGING if middle > 0 else RUSHING,
            words.drifting(middle, agreeing, len(drifts)),
            chance,
            agreeing,
            len(drifts),
            material.exercises[passage].passage,
            tuple(range(len(material.exercises[passage].passage.notes))),
        )
    ]


def _standing(material: Material, facts: Sequence[Fact]) -> list[_Asked]:
    """The questions whose answer is no chance, each also without what the stronger ones explain."""
    standing: list[_Asked] = []
    left = list(facts)
    everything = _asked(material, facts)
    level = ALPHA * (1 - DRIFT_SHARE) / max(1, len(everything))
    for asked in sorted(everything, key=lambda a: a.chance):
        if asked.corrected > ALPHA:
            break
        if not standing or asked.test(split(left, asked.question.spots)) <= level:
            standing.append(asked)
            left = [fact for fact in left if fact.spot not in asked.question.spots]
    return standing


def _asked(material: Material, facts: Sequence[Fact]) -> list[_Asked]:
    pairs = [(q, chance_of_faults) for q in questions(material)]
    pairs += [(q, chance_of_lag) for q in questions_of_moves(material)]
    chances = [test(split(facts, question.spots)) for question, test in pairs]
    corrected = [min(1.0, chance / (1 - DRIFT_SHARE)) for chance in holm(chances)]
    return [
        _Asked(question, test, chance, better)
        for (question, test), chance, better in zip(pairs, chances, corrected, strict=True)
    ]


def _told(asked: _Asked, facts: Sequence[Fact], material: Material) -> Finding:
    question, halves = asked.question, split(facts, asked.question.spots)
    bad = [fact for fact in halves.inside if fact.fault] or list(halves.inside)
    passage = Counter(fact.spot[0] for fact in bad).most_common(1)[0][0]
    notes = tuple(sorted(index for at, index in question.spots if at == passage))
    exercise = material.exercises[passage]
    scene = words.Scene(exercise, notes, question, len(question.spots))
    if asked.test is chance_of_lag:
        usual, inside = median(lags(halves.outside)), lags(halves.inside)
        count, of = sum(lag > usual + SMALLEST_LAG_MS for lag in inside), len(inside)
        sentence = words.lagging(scene, halves)
    else:
        count, of = halves.faults, len(halves.inside)
        sentence = words.failing(scene, halves)
    return Finding(question.kind, sentence, asked.corrected, count, of, exercise.passage, notes)


def no_pattern(takes: Sequence[Judged]) -> str:
    """What to say where nothing was found: how many mistakes there are, and how many takes more
    would show a note that goes wrong every other time."""
    material = facts_of(takes)
    facts = counted(material)
    faults = sum(fact.fault for fact in facts)
    asked = max(1, len(material.places), len(questions(material)))
    share = faults / len(facts) if facts else 0.0
    firsts = Counter(fact.spot[0] for fact in material.facts if fact.spot[1] == 0)
    times = max(firsts.values(), default=0)
    needed = _takes_needed(share, asked)
    return words.nothing(faults, len(takes), None if needed is None else needed - times)


def _takes_needed(share: float, asked: int) -> int | None:
    """Takes of one passage that show a note failing every other time among notes that fail at
    `share`; None if even MOST_TAKES would not."""
    level = ALPHA * (1 - DRIFT_SHARE) / asked
    for takes in range(1, MOST_TAKES + 1):
        least = next((c for c in range(takes + 1) if binomial_tail(c, takes, share) <= level), None)
        if least is not None and binomial_tail(max(3, least), takes, FAILS) >= POWER:
            return takes
    return None
