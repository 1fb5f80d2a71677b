"""What is to be played, in beats: notes of sounding pitch on an exact grid of quarter notes."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

# Air: the breath and the tongue alone, the valves moving; mouthpiece: buzzed on it.
WAYS = ("played", "air", "mouthpiece")


@dataclass(frozen=True, slots=True)
class Note:
    """One note: `pitch` is the sounding MIDI number, beats are quarter notes from the start.

    `slurred` means no tongue on this note: it is joined to the one before; `accent`, that it is to
    stand out.
    """

    pitch: int
    start_beats: Fraction
    length_beats: Fraction
    slurred: bool = False
    syllable: str | None = None
    fingering: str | None = None
    accent: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.start_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class BarSpan:
    """One bar of a passage: where it lies, and the length of one click in it, in quarter notes."""

    start_beats: Fraction
    end_beats: Fraction
    pulse_beats: Fraction


@dataclass(frozen=True, slots=True)
class MeterChange:
    """From the bar line at `start_beats` on, bars and clicks are as long as this."""

    start_beats: Fraction
    bar_beats: Fraction
    pulse_beats: Fraction


@dataclass(frozen=True, slots=True)
class Passage:
    """Notes in order of time, one at a time.

    `bar_beats` is the length of a bar and `pulse_beats` of one click, both in quarter notes
    (6/8 has bars of 3 and a pulse of 3/2), up to the first of `changes`, which stand on bar lines
    in order of time; the tempo counts clicks of `pulse_beats`, and a quarter note stays as long.
    `fifths` (sharps > 0, flats < 0, of the written key) spells the names.
    `first_bar` is what its first bar is called: bars of a part keep their numbers.
    `way` is one of `WAYS`: what is not "played" is done in time with the click and not judged.
    `tempo_share`: it is taken at this share of the drill's tempo.
    """

    notes: tuple[Note, ...]
    title: str = ""
    bar_beats: Fraction = Fraction(4)
    pulse_beats: Fraction = Fraction(1)
    fifths: int = 0
    way: str = "played"
    tempo_share: float = 1.0
    changes: tuple[MeterChange, ...] = ()
    first_bar: int = 1

    def __post_init__(self) -> None:
        if self.way not in WAYS:
            raise ValueError(f"{self.way!r} is none of {', '.join(WAYS)}")
        for before, after in zip(self.notes, self.notes[1:], strict=False):
            if _overlap(before, after):
                raise ValueError(f"notes overlap at beat {after.start_beats}")
        if any(note.length_beats.numerator <= 0 for note in self.notes):
            raise ValueError("a note has no length")
        before_beats, bar_beats = Fraction(0), self.bar_beats
        for change in self.changes:
            length = change.start_beats - before_beats
            if length <= 0 or length % bar_beats or min(change.bar_beats, change.pulse_beats) <= 0:
                raise ValueError(f"no bar can begin at beat {change.start_beats}")
            before_beats, bar_beats = change.start_beats, change.bar_beats

    @property
    def end_beats(self) -> Fraction:
        return self.notes[-1].end_beats if self.notes else Fraction(0)

    @property
    def length_beats(self) -> Fraction:
        """Whole bars that hold all notes."""
        if not self.notes:
            return Fraction(0)
        # Changes stand on bar lines: from the last one within the notes all bars are alike.
        end, start, bar = self.end_beats, Fraction(0), self.bar_beats
        for change in self.changes:
            if change.start_beats < end:
                start, bar = change.start_beats, change.bar_beats
        return start + max(1, math.ceil((end - start) / bar)) * bar

    @property
    def sounding_beats(self) -> Fraction:
        """How long all notes together sound."""
        lengths = [note.length_beats for note in self.notes]
        # Over one denominator: many times as fast as adding fractions one by one.
        parts = math.lcm(*{length.denominator for length in lengths})
        return Fraction(sum(x.numerator * (parts // x.denominator) for x in lengths), parts)

    @property
    def bars(self) -> tuple[BarSpan, ...]:
        """The bars that hold all notes; at least one."""
        made: list[BarSpan] = []
        at = Fraction(0)
        meter, later = (self.bar_beats, self.pulse_beats), list(self.changes)
        while not made or at < self.end_beats:
            if later and later[0].start_beats <= at:
                change = later.pop(0)
                meter = (change.bar_beats, change.pulse_beats)
            made.append(BarSpan(at, at + meter[0], meter[1]))
            at += meter[0]
        return tuple(made)

    def transposed(self, semitones: int) -> Passage:
        moved = tuple(replace(n, pitch=n.pitch + semitones) for n in self.notes)
        return replace(self, notes=moved)


def _overlap(before: Note, after: Note) -> bool:
    """Whether `after` begins before the end of `before`; in whole numbers, because every passage
    asks it of every note."""
    start, length, then = before.start_beats, before.length_beats, after.start_beats
    end = start.numerator * length.denominator + length.numerator * start.denominator
    return then.numerator * start.denominator * length.denominator < end * then.denominator


def bar_index(bars: Sequence[BarSpan], beats: Fraction) -> int:
    """Which of a passage's `bars` holds that beat, from 0; before the first or after the last, that
    one."""
    return max(0, bisect_right(bars, beats, key=lambda bar: bar.start_beats) - 1)


def from_bar(passage: Passage, number: int) -> Passage:
    """The notes that begin in bar `number` (from 0) or later, that bar being the first."""
    bar = passage.bars[number]
    at = bar.start_beats
    meters = [c for c in passage.changes if c.start_beats <= at]
    held = meters[-1].bar_beats if meters else passage.bar_beats
    return replace(
        passage,
        notes=tuple(
            replace(note, start_beats=note.start_beats - at)
            for note in passage.notes
            if note.start_beats >= at
        ),
        first_bar=passage.first_bar + number,
        bar_beats=held,
        pulse_beats=bar.pulse_beats,
        changes=tuple(
            replace(c, start_beats=c.start_beats - at)
            for c in passage.changes
            if c.start_beats > at
        ),
    )


def can_slur(before: Note | None, note: Note) -> bool:
    """Whether `note` can be slurred: another pitch sounds right up to it."""
    return (
        before is not None and before.end_beats == note.start_beats and before.pitch != note.pitch
    )


def in_a_row(
    pitches: Iterable[int | None], length_beats: Fraction, *, slurred: bool = False
) -> tuple[Note, ...]:
    """Notes of one length, one after the other; None is a rest.  Slurred: all but the first."""
    notes: list[Note] = []
    for place, pitch in enumerate(pitches):
        if pitch is not None:
            joined = slurred and bool(notes) and notes[-1].end_beats == place * length_beats
            notes.append(Note(pitch, place * length_beats, length_beats, joined))
    return tuple(notes)
