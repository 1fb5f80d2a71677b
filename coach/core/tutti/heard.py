"""The notes of a take that were heard as what they should be, on the beats of the page."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.core.passage import bar_index
from coach.core.report import Report
from coach.core.take import Attack
from coach.core.timeline import Plan


@dataclass(frozen=True, slots=True)
class HeardAmong:
    """One note: its `index` in the plan, its place, and `off_ms`, the attack less the place in the
    tempo map (no offset taken off)."""

    index: int
    beats: Fraction
    bar: int
    pitch: int
    due_frame: int
    attack: Attack
    off_ms: float


def heard_notes(report: Report, plan: Plan) -> tuple[HeardAmong, ...]:
    """In order of time; wrong, unsure and missed notes are left out.  ValueError where the report
    is of another plan."""
    passage = plan.exercise.passage
    if any(v.index >= len(passage.notes) or v.due != plan.dues[v.index] for v in report.verdicts):
        raise ValueError("the report is of another plan")
    bars = passage.bars
    made: list[HeardAmong] = []
    for verdict in report.verdicts:
        attack = verdict.attack
        if attack is None or verdict.kind in ("wrong", "unsure"):
            continue
        beats = passage.notes[verdict.index].start_beats
        off = (attack.frame - verdict.due.frame) * 1000 / plan.rate
        bar = passage.first_bar + bar_index(bars, beats)
        due = verdict.due
        made.append(HeardAmong(due.index, beats, bar, due.pitch, due.frame, attack, off))
    return tuple(made)
