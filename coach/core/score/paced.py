"""A line at its marked tempi: when each note begins, in seconds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coach.core.score.line import Line, LineNote, PlayedBar
from coach.core.score.practise import USUAL_QUARTERS

# As in configs/tonguing.toml: a silence of a quarter of the time between two starts is a rest.
REST_SHARE = Fraction(1, 4)


@dataclass(frozen=True, slots=True)
class PacedNote:
    """A note that is not a grace note: `before_s` since the note before began (infinite for the
    first); `rested`: there is a rest before it; `bar` is the place of its bar in `line.bars`."""

    note: LineNote
    bar: int
    before_s: float
    rested: bool

    @property
    def rate_hz(self) -> float:
        """Notes a second from the note before to this one."""
        return 1 / self.before_s


def paced(line: Line) -> tuple[PacedNote, ...]:
    """The notes at the marked tempi (120 quarters a minute where none is marked)."""
    notes = line.sounded
    clock = Clock(line.tempos)
    made = []
    for k, note in enumerate(notes):
        before = notes[k - 1] if k else None
        since_s = clock.between_s(before.onset, note.onset) if before else float("inf")
        made.append(
            PacedNote(note, bar_place(line.bars, note.onset), since_s, _rested(before, note))
        )
    return tuple(made)


def _rested(before: LineNote | None, note: LineNote) -> bool:
    if before is None:
        return True
    silence = note.onset - before.onset - before.length
    return silence > 0 and silence >= REST_SHARE * (note.onset - before.onset)


def bar_place(bars: Sequence[PlayedBar], onset: Fraction) -> int:
    """The place of the bar that holds an onset."""
    return max(0, bisect_right(bars, onset, key=lambda bar: bar.start) - 1)


class Clock:
    """Seconds along a line whose tempo changes at (onset, quarters a minute).

    Before the first mark the tempo is that of the first mark.
    """

    def __init__(self, tempos: Sequence[tuple[Fraction, float]]) -> None:
        first_bpm = tempos[0][1] if tempos else USUAL_QUARTERS
        self._marks = [(Fraction(0), first_bpm), *tempos]
        self._reached_s = [0.0]
        for (at, bpm), (until, _) in pairwise(self._marks):
            self._reached_s.append(self._reached_s[-1] + float(until - at) * 60 / bpm)

    def at_s(self, onset: Fraction) -> float:
        """Seconds from the start of the line."""
        place = bisect_right(self._marks, onset, key=lambda mark: mark[0]) - 1
        at, bpm = self._marks[place]
        return self._reached_s[place] + float(onset - at) * 60 / bpm

    def between_s(self, start: Fraction, end: Fraction) -> float:
        """Rounded, so that equal times are equal; never 0."""
        return max(round(self.at_s(end) - self.at_s(start), 6), 1e-6)


def rates_hz(notes: Sequence[PacedNote]) -> list[float]:
    """Notes a second inside a stretch, from each note to the next."""
    return [note.rate_hz for note in notes[1:]]
