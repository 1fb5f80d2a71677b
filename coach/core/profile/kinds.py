"""What sort of playing a passage is: its scale, its tonguing, how quick its notes are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from coach.core.passage import Passage
from coach.core.profile.patterns import tonguing_of
from coach.core.profile.scales import scale_of


@dataclass(frozen=True, slots=True)
class Kinds:
    """The written scale or arpeggio ("G major", "chromatic"), the tonguing ("ta ka", "slurred"),
    both None where it is none in particular, and its quick notes to a click of the tempo."""

    scale: str | None
    tonguing: str | None
    notes_a_click: float


class OfKinds(Protocol):
    """What the book tells of one take for the ceilings of its kinds; `day` as `date.toordinal`."""

    @property
    def drill(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def scale(self) -> str | None: ...
    @property
    def tonguing(self) -> str | None: ...
    @property
    def notes_a_click(self) -> float: ...
    @property
    def tempo_bpm(self) -> float: ...
    @property
    def clean(self) -> int: ...
    @property
    def counted(self) -> int: ...
    @property
    def day(self) -> int: ...


def passage_kinds(passage: Passage, transposition: int) -> Kinds:
    """The kinds of a passage; written pitch is sounding - `transposition`."""
    return Kinds(scale_of(passage, transposition), tonguing_of(passage), notes_a_click(passage))


def notes_a_click(passage: Passage) -> float:
    """The rate of the quickest notes that make up half of the passage or more, in notes a click of
    `pulse_beats`; 0 without notes.

    A note's rate is the mean over the time before and after it, so that dotted notes count as the
    even ones that they are made of.
    """
    starts = [note.start_beats for note in passage.notes]
    if len(starts) < 2:
        return float(sum(passage.pulse_beats / note.length_beats for note in passage.notes))
    gaps = [float(after - before) for before, after in pairwise(starts)]
    means = [(a + b) / 2 for a, b in zip([gaps[0], *gaps], [*gaps, gaps[-1]], strict=True)]
    return float(passage.pulse_beats) / _half_way(means)


def _half_way(gaps: Sequence[float]) -> float:
    return sorted(gaps)[(len(gaps) + 1) // 2 - 1]
