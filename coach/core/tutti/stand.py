"""Where the conductor stands: bar, beat, and how long until the player's next entry."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from coach.core.passage import BarSpan, Passage, bar_index
from coach.core.timeline import Plan
from coach.core.warp import Warp


@dataclass(frozen=True, slots=True)
class Stand:
    """`bar` as it is called, "" in the count-in; `beat` from 1 of `beats_in_bar` clicks.

    `entry_in` is in words, as "2 bars 1 beat" ("now" in the beat of the entry), and
    `entry_bars`, `entry_beats` the same in figures, None and 0 while the player plays, and after
    the last note.  `note` is the index of the note that sounds, or the next one; None after the
    last.  `holds`: a fermata stops the time here.
    """

    bar: str
    beat: int
    beats_in_bar: int
    entry_in: str | None
    entry_bars: int
    entry_beats: int
    note: int | None
    holds: bool = False


def stand_at(plan: Plan, frame: int) -> Stand:
    """What the conductor beats at `frame`; after the passage its last beat."""
    passage = plan.exercise.passage
    beats, holds = place_of(plan, frame)
    bars = passage.bars
    last = max(Fraction(0), bars[-1].end_beats - bars[-1].pulse_beats)
    bar, beat = _spot(passage, bars, min(beats, last))
    note = _note(passage, beats)
    waits = note is not None and _is_entry(passage, bars, note, beats)
    left = _left(passage, bars, (bar, beat), note) if waits and note is not None else None
    return Stand(
        str(passage.first_bar + bar) if bar >= 0 else "",
        beat + 1,
        _beats_in(_bar(passage, bars, bar)),
        None if left is None else _words(*left),
        *(left or (0, 0)),
        note,
        holds,
    )


def place_of(plan: Plan, frame: int) -> tuple[Fraction, bool]:
    """The beat of the page at a frame (negative in the count-in), and whether a fermata holds it
    there.  The beat whose own frame this is, is reached, however its frame was rounded."""
    exercise = plan.exercise
    tempo = Fraction(str(round(exercise.tempo_bpm, 3)))
    frames = frame - plan.downbeat_frame + Fraction(1, 2)
    even = frames * tempo / (60 * plan.rate) * exercise.passage.pulse_beats
    return (even, False) if exercise.warp is None else beats_of(exercise.warp, even)


def beats_of(warp: Warp, even: Fraction) -> tuple[Fraction, bool]:
    """The beat of the page at a beat of the even tempo (`Warp.even` turned round), and whether it
    is held."""
    holds = dict(warp.holds)
    knots = sorted({beat for beat, _ in warp.steps} | set(holds))
    at = Fraction(0)
    for knot, following in zip(knots, [*knots[1:], None], strict=True):
        share = warp.share_at(knot)
        if even < at:
            return knot + (even - at) * share, False
        if even < at + holds.get(knot, 0):
            return knot, True
        at += holds.get(knot, Fraction(0))
        if following is None or even < at + (following - knot) / share:
            return knot + (even - at) * share, False
        at += (following - knot) / share
    raise AssertionError("the last knot has no end")


def _note(passage: Passage, beats: Fraction) -> int | None:
    """The note that sounds at a beat, else the next one."""
    place = bisect_right(passage.notes, beats, key=lambda note: note.end_beats)
    return place if place < len(passage.notes) else None


def _is_entry(passage: Passage, bars: tuple[BarSpan, ...], note: int, beats: Fraction) -> bool:
    """Whether this note is still to come, after a rest of a beat or more (or at the start)."""
    start = passage.notes[note].start_beats
    if beats >= start:
        return False
    end = passage.notes[note - 1].end_beats if note else None
    return end is None or start - end >= bars[bar_index(bars, start)].pulse_beats


def _left(
    passage: Passage, bars: tuple[BarSpan, ...], here: tuple[int, int], note: int
) -> tuple[int, int]:
    """Bars and beats from the beat that is beaten to the one of the entry."""
    bar, beat = _spot(passage, bars, passage.notes[note].start_beats)
    whole, more = bar - here[0], beat - here[1]
    if more < 0:
        whole, more = whole - 1, more + _beats_in(_bar(passage, bars, here[0]))
    return whole, more


def _words(bars: int, beats: int) -> str:
    parts = [
        f"{count} {name}{'s' if count > 1 else ''}"
        for count, name in ((bars, "bar"), (beats, "beat"))
        if count
    ]
    return " ".join(parts) or "now"


def _spot(passage: Passage, bars: tuple[BarSpan, ...], beats: Fraction) -> tuple[int, int]:
    """(bar, beat in it), both from 0; bars below 0 in the count-in."""
    number = int(beats // passage.bar_beats) if beats < 0 else bar_index(bars, beats)
    bar = _bar(passage, bars, number)
    return number, int((beats - bar.start_beats) // bar.pulse_beats)


def _bar(passage: Passage, bars: tuple[BarSpan, ...], number: int) -> BarSpan:
    """The count-in is in the first meter."""
    if number >= 0:
        return bars[number]
    length = passage.bar_beats
    return BarSpan(number * length, (number + 1) * length, passage.pulse_beats)


def _beats_in(bar: BarSpan) -> int:
    """Clicks in a bar; a part of one counts."""
    return int(-((bar.start_beats - bar.end_beats) // bar.pulse_beats))
