"""The notes whose ends are heard as ends: before a rest, at the end, under a fermata.

Only those of a beat or more: how short a short note is to be is a matter of its dots and of style,
and a plan knows nothing of either.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.core.passage import bar_index
from coach.core.timeline import Plan


@dataclass(frozen=True, slots=True)
class Cutoff:
    """Note `index`, which ends at `beats` in bar `bar` (a bar line ends the bar before) and is
    `pulses` clicks long.  `before` is "rest", "end" or "fermata" (it is held, and the next note
    follows without a rest)."""

    index: int
    bar: int
    beats: Fraction
    pulses: Fraction
    before: str


def cutoffs(plan: Plan) -> tuple[Cutoff, ...]:
    """In order of time."""
    passage = plan.exercise.passage
    bars, made = passage.bars, []
    for index, note in enumerate(passage.notes):
        number = bar_index(bars, note.start_beats)
        pulses = note.length_beats / bars[number].pulse_beats
        before = _before(plan, index)
        if before and pulses >= 1:
            last = sum(bar.start_beats < note.end_beats for bar in bars) - 1
            bar = passage.first_bar + last
            made.append(Cutoff(index, bar, note.end_beats, pulses, before))
    return tuple(made)


def _before(plan: Plan, index: int) -> str:
    notes, warp = plan.exercise.passage.notes, plan.exercise.warp
    note = notes[index]
    if index + 1 == len(notes):
        return "end"
    if notes[index + 1].start_beats > note.end_beats:
        return "rest"
    holds = warp.holds if warp is not None else ()
    held = any(note.start_beats <= beat < note.end_beats for beat, _ in holds)
    return "fermata" if held else ""
