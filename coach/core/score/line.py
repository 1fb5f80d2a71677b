"""One player's line: what is played, in the order in which it is played."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.core.pitch import Spelled
from coach.core.score.model import Meter


@dataclass(frozen=True, slots=True)
class LineNote:
    """One note: `bar` as printed, `beat` in quarter notes from 1 inside it, onset in quarter notes
    from the start of the line; `tied`: joined out of several heads.  The other fields are those of
    `model.Head`; a grace note has the length 0 and the onset of the note it leans on."""

    bar: str
    beat: Fraction
    onset: Fraction
    length: Fraction
    sounding: int
    written: Spelled
    slurred: bool = False
    grace: bool = False
    tied: bool = False
    marks: frozenset[str] = frozenset()
    fingering: str | None = None
    syllable: str | None = None


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar as it is played: `index` among the bars of the score, `into` is where in a whole bar
    of its meter it begins (3 for a pick-up of one beat in 4/4)."""

    index: int
    number: str
    start: Fraction
    length: Fraction
    meter: Meter
    into: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Line:
    """A line with what stands around it; changes are (onset, value), the first at 0."""

    title: str
    part: str
    transposition: int
    notes: tuple[LineNote, ...]
    bars: tuple[PlayedBar, ...]
    keys: tuple[tuple[Fraction, int], ...]
    tempos: tuple[tuple[Fraction, float], ...]
    remarks: tuple[str, ...] = ()

    @property
    def sounded(self) -> tuple[LineNote, ...]:
        """All but the grace notes."""
        return tuple(note for note in self.notes if not note.grace)

    @property
    def meters(self) -> tuple[tuple[Fraction, Meter], ...]:
        """The meter at the start and its changes."""
        made: list[tuple[Fraction, Meter]] = []
        for bar in self.bars:
            if not made or made[-1][1] != bar.meter:
                made.append((bar.start, bar.meter))
        return tuple(made)

    @property
    def length(self) -> Fraction:
        return self.bars[-1].start + self.bars[-1].length if self.bars else Fraction(0)
