"""The ensemble out of a score: what every part sounds in the bars that are played.

Grace notes are left out, as in the player's own line.  A fermata holds its note for as long again
as it is written (common practice, no source), four quarter notes at most.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.score.bars import bars_between
from coach.core.score.choose import Choice, in_force, line_between, part_of
from coach.core.score.line import Line, PlayedBar
from coach.core.score.model import Head, Part, Score
from coach.core.tutti.ensemble import ACCENT_VELOCITY, USUAL_VELOCITY, Ensemble, Sounded, Voice
from coach.core.tutti.gradual import fermatas, first_tempo, tempos_with_words
from coach.core.tutti.programs import program_of
from coach.core.warp import Warp, warp_of
from coach.errors import CoachError

LONGEST_HOLD = Fraction(4)
ACCENTS = frozenset({"accent", "marcato"})


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The player's line, lead-in and all, and the ensemble around it; beats of both are those of
    the passage that is made of the line.  `entry` is the printed number of the first bar asked
    for."""

    line: Line
    ensemble: Ensemble
    entry: str


def excerpt_of(score: Score, choice: Choice, lead_bars: int) -> Excerpt:
    """The bars chosen with `lead_bars` before them (as many as there are), in which the player's
    own line rests; CoachError for a part or bars that are not there, or bars without a note."""
    if not score.frames:
        raise CoachError("it has no bars", "", "choose another file")
    part = part_of(score, choice.part)
    first, last = bars_between(score.frames, choice.bars)
    begin = max(0, first - lead_bars)
    line = line_between(score, part, begin, last, choice.reading)
    entry = next(bar for bar in line.bars if bar.index == first)
    own = tuple(note for note in line.notes if note.onset >= entry.start)
    if not any(not note.grace for note in own):
        raise CoachError("there are no notes in these bars", "", "choose other bars")
    line = replace(line, notes=own)
    into = line.bars[0].into
    voices = tuple(_voice(one, line.bars, into) for one in score.parts)
    return Excerpt(
        line,
        Ensemble(
            voices,
            score.parts.index(part),
            line.length + into,
            _warp(score, line, into, choice.strict),
        ),
        entry.number,
    )


def _voice(part: Part, played: Sequence[PlayedBar], into: Fraction) -> Voice:
    open_notes: dict[int, int] = {}
    made: list[Sounded] = []
    for bar in played:
        for head in sorted(part.bars[bar.index].heads, key=lambda one: one.onset):
            if not head.grace and head.length > 0:
                _take(head, bar.start + into + head.onset, made, open_notes)
    return Voice(part.name, program_of(part.name, part.sound), tuple(made))


def _take(head: Head, start: Fraction, made: list[Sounded], open_notes: dict[int, int]) -> None:
    """Tied to the same pitch before it, or a note of its own; players on one part who have the same
    pitch sound it once."""
    before = open_notes.get(head.sounding)
    end = start + head.length
    if before is not None:
        note = made[before]
        if (head.tied_back and note.end_beats == start) or note.start_beats == start:
            longer = max(note.length_beats, end - note.start_beats)
            made[before] = replace(note, length_beats=longer)
            return
        if note.end_beats > start:
            made[before] = replace(note, length_beats=start - note.start_beats)
    open_notes[head.sounding] = len(made)
    velocity = ACCENT_VELOCITY if head.marks & ACCENTS else USUAL_VELOCITY
    made.append(Sounded(start, head.length, head.sounding, velocity))


def _warp(score: Score, line: Line, into: Fraction, strict: bool) -> Warp | None:
    """Tempo marks, words of tempo and fermatas on the way; the reference is the number that holds
    at the start."""
    reference = line.tempos[0][1] if line.tempos else first_tempo(score)
    tempos = [(_moved(at, into), bpm) for at, bpm in _tempos(score, line, strict)]
    marks = warp_of(tempos, reference)
    holds = _holds(score, line.bars, into)
    if not holds:
        return marks
    return Warp(marks.steps if marks else ((Fraction(0), Fraction(1)),), holds)


def _tempos(
    score: Score, line: Line, strict: bool
) -> Sequence[tuple[Fraction, float]] | Sequence[tuple[Fraction, Fraction]]:
    if strict or not any(frame.tempo_words for frame in score.frames):
        return line.tempos
    return in_force(tempos_with_words(score), line.bars)


def _moved(at: Fraction, into: Fraction) -> Fraction:
    return at + into if at else Fraction(0)


def _holds(
    score: Score, played: Iterable[PlayedBar], into: Fraction
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Where time stops for a fermata in any part: one hold for all that end together, after the
    start of the last note that has one."""
    by_end: dict[Fraction, tuple[Fraction, Fraction]] = {}
    for bar in played:
        for head in fermatas(score, bar.index):
            start = bar.start + into + head.onset
            hold = (start, min(head.length, LONGEST_HOLD))
            end = start + head.length
            by_end[end] = max(by_end.get(end, hold), hold)
    by_start: dict[Fraction, Fraction] = {}
    for start, extra in by_end.values():
        by_start[start] = max(extra, by_start.get(start, extra))
    return tuple(sorted(by_start.items()))
