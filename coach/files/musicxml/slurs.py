"""Slurs: starts and stops paired by number, in order of time."""

from __future__ import annotations

import sys
from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction

# Bar, place in it, and which note of the bar in the order of the file (chords share one).
When = tuple[int, Fraction, int]


@dataclass(frozen=True, slots=True)
class SlurEnd:
    """One end of a slur at a note."""

    when: When
    begins: bool
    number: str
    voice: str


class _Voice:
    """How many slurs lie over each note of a voice: begun minus ended, summed along it."""

    def __init__(self, notes: list[When]) -> None:
        self.notes = sorted(set(notes))
        self._steps = [0] * (len(self.notes) + 1)

    def cover(self, start: When, stop: When) -> None:
        """From after `start` up to `stop`."""
        self._steps[bisect_right(self.notes, start)] += 1
        self._steps[bisect_right(self.notes, stop)] -= 1

    def covered(self) -> set[When]:
        made, depth = set(), 0
        for note, step in zip(self.notes, self._steps, strict=False):
            depth += step
            if depth > 0:
                made.add(note)
        return made


def slurred_notes(notes: dict[str, list[When]], ends: list[SlurEnd]) -> dict[str, set[When]]:
    """For each voice the notes that no tongue begins.  Slurs that never end are left out."""
    voices = {name: _Voice(times) for name, times in notes.items()}
    for start, stop in _pairs(ends):
        voices[start.voice].cover(start.when, stop.when)
    return {name: voice.covered() for name, voice in voices.items()}


def _pairs(ends: list[SlurEnd]) -> list[tuple[SlurEnd, SlurEnd]]:
    """At one note slurs end before others begin; an end prefers a beginning in its own voice."""
    open_slurs: defaultdict[str, dict[str, SlurEnd]] = defaultdict(dict)
    pairs = []
    for end in sorted(ends, key=lambda e: (e.when, e.begins)):
        waiting = open_slurs[end.number]
        if end.begins:
            waiting[end.voice] = end
        elif waiting:
            voice = end.voice if end.voice in waiting else next(reversed(waiting))
            pairs.append((waiting.pop(voice), end if voice == end.voice else _late(end)))
    return pairs


def _late(end: SlurEnd) -> SlurEnd:
    """In another voice the slur covers all that begins together with its end."""
    bar, onset, _ = end.when
    return replace(end, when=(bar, onset, sys.maxsize))
