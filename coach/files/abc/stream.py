"""What is being written down of one voice: tones, events, and ties, slurs, tuplets under way."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

from coach.core.pitch import Spelled


@dataclass(slots=True)
class Tone:
    """One note head in the making; `at` counts notes and chords of its stream."""

    written: Spelled
    length: Fraction
    transposition: int
    clef: str
    at: int
    grace: bool = False
    chord: bool = False
    tied_back: bool = False
    tied_on: bool = False
    slurred: bool = False
    marks: frozenset[str] = frozenset()
    fingering: str | None = None
    syllable: str | None = None


@dataclass(slots=True)
class Event:
    """Tones at once, a rest (no tones, `printed` or not), or a change of key or tempo, by a number
    or by words."""

    length: Fraction
    tones: list[Tone] = field(default_factory=list)
    printed: bool = False
    fifths: int | None = None
    quarter_bpm: float | None = None
    tempo_words: str = ""

    def stretch(self, factor: Fraction) -> None:
        self.length *= factor
        for tone in self.tones:
            tone.length *= factor


@dataclass(slots=True)
class Tuplet:
    """The next `left` notes last `factor` of what they say."""

    factor: Fraction
    left: int


# Nothing playable has tuplets in tuplets in tuplets in tuplets.
MOST_NESTED = 3


@dataclass(slots=True)
class Stream:
    """One row of notes, an overlay (&) being another.

    `tied` are the tones with an open tie by letter and octave; `open_slurs` where each began;
    `slur_steps` add up to the number of slurs over a note; `broken` waits for the next note.
    """

    tones: list[Tone] = field(default_factory=list)
    count: int = 0
    tuplets: list[Tuplet] = field(default_factory=list)
    tied: dict[tuple[str, int], Tone] = field(default_factory=dict)
    open_slurs: list[int] = field(default_factory=list)
    slur_steps: dict[int, int] = field(default_factory=dict)
    marks: set[str] = field(default_factory=set)
    fingering: str | None = None
    broken: Fraction | None = None
    last: Event | None = None
    stray: Counter[str] = field(default_factory=Counter)

    def begin_tuplet(self, notes: int, in_time_of: int, count: int) -> None:
        """ValueError if it makes no sense."""
        if not (1 <= notes <= 64 and 1 <= in_time_of <= 64 and 1 <= count <= 256):
            raise ValueError("a tuplet has senseless numbers")
        if len(self.tuplets) >= MOST_NESTED:
            raise ValueError("tuplets are nested too deep")
        self.tuplets.append(Tuplet(Fraction(in_time_of, notes), count))

    def factor(self) -> Fraction:
        """What the next note or rest is to be multiplied with; counts it."""
        made = self.broken or Fraction(1)
        self.broken = None
        for tuplet in self.tuplets:
            made *= tuplet.factor
            tuplet.left -= 1
        self.tuplets = [tuplet for tuplet in self.tuplets if tuplet.left > 0]
        return made

    def break_rhythm(self, arrows: str) -> bool:
        """ "a>b": a is dotted, b halved; more arrows, more dots.  False if there is no note to dot,
        or more than three arrows."""
        if self.last is None or not self.last.length or len(arrows) > 3 or self.broken:
            return False
        short = Fraction(1, 2 ** len(arrows))
        first, second = (2 - short, short) if arrows[0] == ">" else (short, 2 - short)
        self.last.stretch(first)
        self.broken = second
        return True

    def end_bar(self) -> None:
        """A broken rhythm does not reach over a bar line: its first note is as it was."""
        if self.broken and self.last:
            self.last.stretch(1 / (2 - self.broken))
            self.stray["arrow"] += 1
        self.broken, self.last = None, None

    def open_slur(self) -> None:
        self.open_slurs.append(self.count)

    def close_slur(self) -> None:
        """All notes after its first are slurred."""
        if not self.open_slurs:
            self.stray["slur"] += 1
            return
        start = self.open_slurs.pop()
        if self.count - start >= 2:
            self._step(start + 1, 1)
            self._step(self.count, -1)

    def _step(self, at: int, by: int) -> None:
        self.slur_steps[at] = self.slur_steps.get(at, 0) + by

    def finish(self) -> Counter[str]:
        """Slurs over their notes; what was left over, by kind: slurs that were never closed or
        never opened (they are not played, as nobody knows where they end) and arrows."""
        self.end_bar()
        over, at = 0, 0
        for tone in self.tones:
            while at <= tone.at:
                over += self.slur_steps.get(at, 0)
                at += 1
            tone.slurred = over > 0
        self.stray["slur"] += len(self.open_slurs)
        return self.stray
