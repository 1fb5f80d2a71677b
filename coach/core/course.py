"""A course: drills practised one after the other, with rests; how long it takes and what it costs.

Times are what a session gives (see `session`): before each take the count-in, between takes the
drill's own rest, after the last one the part's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TypeVar

from coach.core import gate as gating
from coach.core.exercise import Drill
from coach.core.passage import Note, Passage

T = TypeVar("T")

# Takes of a build are kept apart from those of the passage itself, under its name and this: its
# days are counted by them.
BUILD_SUFFIX = "-build"

# The click needs a lead before each take and the last note its late window after it.
SETTLING_S = 0.5


@dataclass(frozen=True, slots=True)
class CoursePart:
    """One drill of a course, practised for `takes` takes (None: until its goal is reached).

    `rest_s` seconds of rest follow it; `why` is one sentence said before it, `caution` another.
    """

    drill: Drill
    takes: int | None
    rest_s: float
    why: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Course:
    """Parts in the order in which they are practised; any of them may be left out."""

    title: str
    parts: tuple[CoursePart, ...]

    @property
    def length_s(self) -> float:
        """Seconds from the first count-in to the end of the last rest."""
        return sum(length_s(part) for part in self.parts)


def takes_of(part: CoursePart) -> int:
    """The takes of a part; without a number as many as the gate needs if every take passes."""
    if part.takes is not None:
        return part.takes
    pace, takes = gating.start(part.drill.from_bpm, part.drill.to_bpm), 0
    while not pace.reached:
        pace, takes = gating.after_take(pace, part.drill.gate, 1.0), takes + 1
    return takes


def turns(part: CoursePart) -> tuple[Passage, ...]:
    """The passages in the order of play.

    Where some variants are played and others done with air or mouthpiece, only the played ones
    count as takes.
    """
    variants = part.drill.variants
    mixed = any(passage.way == "played" for passage in variants)
    played: list[Passage] = []
    left = takes_of(part)
    while left > 0:
        passage = variants[len(played) % len(variants)]
        played.append(passage)
        left -= passage.way == "played" or not mixed
    return tuple(played)


def length_s(part: CoursePart) -> float:
    """Seconds for a part and the rest after it, all takes at the tempo it begins with.

    Where the gate raises the tempo it takes a little less.
    """
    return sum(_each(part, _take_s)) + _rests_s(part)


def blowing_s(part: CoursePart, counts: Callable[[Note], bool] = lambda _: True) -> float:
    """Seconds in which the lips sound, of the notes that count; air alone does not tire them."""

    def blown(drill: Drill, passage: Passage) -> list[float]:
        beat_s = _beat_s(drill, passage)
        notes = passage.notes if passage.way != "air" else ()
        return [float(note.length_beats) * beat_s for note in notes if counts(note)]

    return sum(chain.from_iterable(_each(part, blown)))


def resting_s(part: CoursePart) -> float:
    """Seconds of rest: in the passages, between takes and after them, the count-ins left aside."""
    return sum(_each(part, _silent_s)) + _rests_s(part)


def _each(part: CoursePart, measure: Callable[[Drill, Passage], T]) -> Iterator[T]:
    """What is measured of each passage in the order of play, worked out once for each variant."""
    found: dict[int, T] = {}
    for passage in turns(part):
        if id(passage) not in found:
            found[id(passage)] = measure(part.drill, passage)
        yield found[id(passage)]


def _rests_s(part: CoursePart) -> float:
    between = part.drill.rest_beats * 60 / part.drill.from_bpm
    return (len(turns(part)) - 1) * between + part.rest_s


def _take_s(drill: Drill, passage: Passage) -> float:
    beats = passage.length_beats + drill.click.count_in_bars * passage.bar_beats
    return float(beats) * _beat_s(drill, passage) + SETTLING_S


def _silent_s(drill: Drill, passage: Passage) -> float:
    sounding = 0 if passage.way == "air" else passage.sounding_beats
    return float(passage.length_beats - sounding) * _beat_s(drill, passage)


def _beat_s(drill: Drill, passage: Passage) -> float:
    """Seconds of one quarter note at the tempo the drill begins with."""
    return 60 / (drill.from_bpm * passage.tempo_share * float(passage.pulse_beats))
