"""A line as a passage to practise: in whole bars, in time, without what is not judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from coach.core.instrument import Instrument
from coach.core.passage import MeterChange, Note, Passage
from coach.core.pitch import moved_key
from coach.core.score.line import Line, LineNote, PlayedBar
from coach.core.spelling import spelled
from coach.errors import CoachError

USUAL_QUARTERS = 120.0
ACCENTED = frozenset({"accent", "marcato"})


@dataclass(frozen=True, slots=True)
class _Span:
    """One bar of the passage, put together of the pieces that make it up."""

    start: Fraction
    length: Fraction
    pulse: Fraction


def passage_of(line: Line, instrument: Instrument) -> Passage:
    """The line in whole bars from the bar in which it begins; grace notes are left out.

    Notes sound as in the line and are spelled in the key that the player of `instrument` reads.  A
    note keeps its fingering only where the instrument has one of that name.  CoachError if there is
    no note.
    """
    if not line.sounded:
        raise CoachError("there are no notes in these bars", "", "choose other bars")
    lead = line.bars[0].into
    spans = _spans(line.bars, lead)
    notes = tuple(_notes(line, lead, instrument))
    return Passage(
        notes,
        "",
        spans[0].length,
        spans[0].pulse,
        written_key(line, instrument),
        changes=_changes(spans, notes[-1].end_beats),
        first_bar=_first_number(line.bars),
    )


def _first_number(bars: Sequence[PlayedBar]) -> int:
    """The printed number of the first bar; 1 where a jump would make the next ones wrong."""
    straight = all(b.index == a.index + 1 for a, b in pairwise(bars))
    number = bars[0].number
    return int(number) if straight and number.isdecimal() else 1


def written_key(line: Line, instrument: Instrument) -> int:
    """The key signature at the start as the player of the instrument reads it."""
    return moved_key(line.keys[0][1], line.transposition - instrument.transposition)


def tempo_of(line: Line, passage: Passage) -> float:
    """The marked tempo at the start of the line in clicks a minute (120 quarters if unmarked)."""
    quarters = next((bpm for _, bpm in line.tempos), USUAL_QUARTERS)
    return float(quarters / passage.pulse_beats)


def _notes(line: Line, lead: Fraction, instrument: Instrument) -> list[Note]:
    made: list[Note] = []
    grace: LineNote | None = None
    for note in line.notes:
        if note.grace:
            grace = grace or note
            continue
        # What leans on a note takes the tongue in its place: the note is played without it here.
        slurred = note.slurred and (grace is None or grace.slurred)
        before = made[-1] if made else None
        start = note.onset + lead
        joined = before is not None and before.end_beats == start and before.pitch != note.sounding
        fingering = note.fingering if _has(instrument, note.fingering) else None
        made.append(
            Note(
                note.sounding,
                start,
                note.length,
                slurred and joined,
                note.syllable,
                fingering,
                bool(note.marks & ACCENTED),
            )
        )
        grace = None
    return made


def _has(instrument: Instrument, fingering: str | None) -> bool:
    """Whether the instrument has such a fingering on any of its tubes."""
    if fingering is None:
        return False
    plain = fingering.removesuffix("+")
    levers = {tube.lever for tube in instrument.tubes}
    lever = plain[:1] if plain[:1] in levers and plain[:1] else ""
    known = {combination.lstrip("TH") for combination in instrument.combinations}
    return lever in levers and plain.removeprefix(lever) in known


def _spans(bars: Sequence[PlayedBar], lead: Fraction) -> list[_Span]:
    """Whole bars: a pick-up and the short bar before it, or two parts of a split bar, are one,
    and a last bar that is cut short counts as whole."""
    made: list[_Span] = []
    filled = Fraction(0)
    for place, bar in enumerate(bars):
        if made and bar.into == filled and filled:
            made[-1] = _Span(made[-1].start, filled + bar.length, made[-1].pulse)
        else:
            start = bar.start + lead if place else Fraction(0)
            made.append(_Span(start, bar.length + (0 if place else lead), bar.meter.pulse_beats))
        filled = (bar.into + bar.length) % bar.meter.bar_beats
    last, whole = made[-1], bars[-1].meter.bar_beats
    return [*made[:-1], _Span(last.start, max(last.length, whole), last.pulse)]


def _changes(spans: Sequence[_Span], end: Fraction) -> tuple[MeterChange, ...]:
    """Where bars or clicks get another length, among those in which notes are."""
    made = []
    for before, span in pairwise(spans):
        if span.start >= end:
            break
        if (before.length, before.pulse) != (span.length, span.pulse):
            made.append(MeterChange(span.start, span.length, span.pulse))
    return tuple(made)


def as_written_for(line: Line, instrument: Instrument) -> Line:
    """The same sounds as the player of the instrument reads them: for a file without written
    pitch."""
    if not line.sounded:
        return line
    names = iter(spelled(passage_of(line, instrument), instrument.transposition))
    notes = tuple(n if n.grace else replace(n, written=next(names)) for n in line.notes)
    moved = line.transposition - instrument.transposition
    keys = tuple((onset, moved_key(fifths, moved)) for onset, fifths in line.keys)
    return replace(line, transposition=instrument.transposition, notes=notes, keys=keys)
