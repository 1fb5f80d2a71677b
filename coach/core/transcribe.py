"""Writing down what was played to a click: attacks on a grid, lengths, rests, pitches.

The player as a whole may be late and out of tune: both are taken off first (circular means).  Then
every attack gets a place of the grid, each a later one than the one before, so that the squared
distances together are least; an attack that would need a place already taken is left out when it is
cheaper to think that the tongue bounced.  A note lasts to the next one unless it was silent for
`REST_SHARE` of the way there: players shorten notes (common practice, no source), and a score is
not to be littered with rests for it.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import Note, Passage

GRIDS = {
    "1/4": Fraction(1),
    "1/8": Fraction(1, 2),
    "1/8T": Fraction(1, 3),
    "1/16": Fraction(1, 4),
    "1/16T": Fraction(1, 6),
    "1/32": Fraction(1, 8),
}
TRIED = ("1/4", "1/8", "1/8T", "1/16", "1/16T")
CLOSE_BEATS, CLOSE_RATIO = 0.04, 1.4
SKIP_COST = 0.5
REST_SHARE, REST_STEPS = 0.4, 0.75
SHORTENED_STEPS = 0.2


@dataclass(frozen=True, slots=True)
class TranscribedNote:
    """A note as it was heard: beats (quarter notes) from the downbeat, sounding fractional pitch.

    `end_beats` None: it is not known when it ended.  `joined`: no tongue was heard.
    """

    start_beats: float
    end_beats: float | None
    pitch: float | None
    joined: bool = False


@dataclass(frozen=True, slots=True)
class Paper:
    """The paper to write on: the step of the grid, the meter, whole bars, the key."""

    step_beats: Fraction
    bars: int
    bar_beats: Fraction = Fraction(4)
    pulse_beats: Fraction = Fraction(1)
    fifths: int = 0

    @property
    def steps(self) -> int:
        """Places on the grid from the downbeat to the end."""
        return int(self.bars * self.bar_beats / self.step_beats)


@dataclass(frozen=True, slots=True)
class Transcript:
    """The passage (sounding); by how much all notes came late, how far they lay from their places
    after that (root mean square), how much higher than A4 = 440 Hz they were tuned; and what found
    no place: no pitch, before the downbeat, after the end, twice the same attack."""

    passage: Passage
    late_beats: float
    spread_beats: float
    tuning_cents: float
    left_out: tuple[TranscribedNote, ...]


def transcribe(heard: Sequence[TranscribedNote], page: Paper, *, title: str = "") -> Transcript:
    """Write down notes in order of time."""
    step = float(page.step_beats)
    starts = [note.start_beats / step for note in heard]
    late = lateness(starts)
    placed = _in_places([start - late for start in starts], heard, page.steps)
    tuning = _tuning([note.pitch for note in heard if note.pitch is not None])
    offs = [starts[k] - late - place for k, place in placed]
    passage = Passage(
        _notes(heard, placed, tuning, page), title, page.bar_beats, page.pulse_beats, page.fifths
    )
    taken = {k for k, _ in placed}
    return Transcript(
        passage,
        late * step,
        math.sqrt(sum(off * off for off in offs) / len(offs)) * step if offs else 0.0,
        100 * tuning,
        tuple(note for k, note in enumerate(heard) if k not in taken),
    )


def choose_grid(heard: Sequence[TranscribedNote]) -> str:
    """The coarsest grid on which the attacks lie about as well as on the best one."""
    spreads = {name: _spread(heard, GRIDS[name]) for name in TRIED}
    limit = max(CLOSE_BEATS, CLOSE_RATIO * min(spreads.values()))
    return next(name for name in TRIED if spreads[name] <= limit)


def lateness(starts: Sequence[float]) -> float:
    """By what share of a step all starts lie after their places, -0.5 to 0.5: a circular mean."""
    return cmath.phase(_turn(starts)) / math.tau if starts else 0.0


def _turn(values: Sequence[float]) -> complex:
    return sum((cmath.exp(1j * math.tau * value) for value in values), 0j)


def _tuning(pitches: Sequence[float]) -> float:
    return cmath.phase(_turn(pitches)) / math.tau if pitches else 0.0


def _spread(heard: Sequence[TranscribedNote], step: Fraction) -> float:
    """Root mean square distance in beats of the attacks from a grid, their lateness taken off."""
    starts = [note.start_beats / float(step) for note in heard]
    late = lateness(starts)
    offs = [start - late - round(start - late) for start in starts]
    return math.sqrt(sum(off * off for off in offs) / max(1, len(offs))) * float(step)


def _in_places(
    starts: Sequence[float], heard: Sequence[TranscribedNote], steps: int
) -> list[tuple[int, int]]:
    """(index of a note, its place), at the least cost.

    `best[place]` is the cheapest way (cost, notes placed) in which `place` is the last one taken.
    """
    best: dict[int, tuple[float, tuple[tuple[int, int], ...]]] = {-1: (0.0, ())}
    for k, start in enumerate(starts):
        skipped = {place: (cost + SKIP_COST, way) for place, (cost, way) in best.items()}
        if heard[k].pitch is None:
            continue
        for place in range(max(0, math.floor(start) - 1), min(steps, math.floor(start) + 3)):
            before = [best[p] for p in best if p < place]
            if not before:
                continue
            cost, way = min(before, key=lambda b: b[0])
            cost += (start - place) ** 2
            if place not in skipped or cost < skipped[place][0]:
                skipped[place] = (cost, (*way, (k, place)))
        best = _cheapest(skipped, start)
    return list(min(best.values(), key=lambda b: b[0])[1])


def _cheapest(
    ways: dict[int, tuple[float, tuple[tuple[int, int], ...]]], start: float
) -> dict[int, tuple[float, tuple[tuple[int, int], ...]]]:
    """Of all ways that end well before `start`, the cheapest is enough."""
    near = {place: way for place, way in ways.items() if place >= start - 3}
    far = [(way[0], place) for place, way in ways.items() if place < start - 3]
    if far:
        place = min(far)[1]
        near[place] = ways[place]
    return near


def _notes(
    heard: Sequence[TranscribedNote], placed: Sequence[tuple[int, int]], tuning: float, page: Paper
) -> tuple[Note, ...]:
    notes: list[Note] = []
    for at, (k, place) in enumerate(placed):
        last = at + 1 == len(placed)
        following = page.steps if last else placed[at + 1][1]
        length = _length(heard[k], following - place, page, last=last)
        pitch = round((heard[k].pitch or 0.0) - tuning)
        note = Note(pitch, place * page.step_beats, length * page.step_beats)
        joins = heard[k].joined and notes and notes[-1].end_beats == note.start_beats
        if joins and notes[-1].pitch != pitch:
            note = replace(note, slurred=True)
        notes.append(note)
    return tuple(notes)


def _length(note: TranscribedNote, room: int, page: Paper, *, last: bool) -> int:
    """Steps that a note lasts, `room` at most."""
    if note.end_beats is None:
        return 1 if last else room
    sounding = (note.end_beats - note.start_beats) / float(page.step_beats)
    rests = room - sounding >= max(REST_STEPS, REST_SHARE * room)
    if not (rests or last):
        return room
    return min(room, max(1, round(sounding + SHORTENED_STEPS)))
