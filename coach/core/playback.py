"""A finished take played back slower: when what sounds, and what has been judged by then.

Frames of the take are those of its plan; frames of the playback count from its first sample.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from coach.core.report import Report
from coach.core.take import Attack, Take, Verdict
from coach.core.timeline import Click, Plan, frames_from_downbeat

# So long before a note's start playback begins with it, for the ear to find its way in.
LEAD_S = 0.05
LONGEST_EXTRA_S = 0.15


@dataclass(frozen=True, slots=True)
class Slowed:
    """The take of `plan` at `speed` (1: as it was) from `from_frame` on, at `rate` frames a
    second."""

    plan: Plan
    speed: float
    rate: int
    from_frame: int

    @property
    def ratio(self) -> Fraction:
        """Frames of the playback for one of the take."""
        return Fraction(self.rate, self.plan.rate) / Fraction(str(self.speed))

    def whole(self, frame: int) -> int:
        """A frame of the take as one of the playback of all of it, from `start_frame` on."""
        return round((frame - self.plan.start_frame) * self.ratio)

    def at(self, frame: int) -> int:
        return self.whole(frame) - self.whole(self.from_frame)

    def frame(self, at: int) -> int:
        """The frame of the take that sounds at a frame of the playback."""
        return self.from_frame + round(at / self.ratio)

    def clicks(self) -> tuple[Click, ...]:
        """The clicks at their places in the playback."""
        moved = (Click(self.at(click.frame), click.kind) for click in self.plan.clicks)
        return tuple(click for click in moved if click.frame >= 0)


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note as it was heard; `level_db` None where that is not known."""

    frame: int
    length_frames: int
    pitch: float
    level_db: float | None
    slurred: bool


def start_of(verdict: Verdict) -> int:
    """When the note started; when it was to start, if it was not heard."""
    return verdict.due.frame if verdict.attack is None else verdict.attack.frame


def begin_frame(
    plan: Plan,
    report: Report,
    *,
    note: int | None = None,
    bar: int | None = None,
    clicks: bool = True,
) -> int:
    """Where to begin: just before a note (from 0), with a bar (from 0), or with the count-in, if it
    is to be heard; nothing of the first note is cut off."""
    if note is not None:
        first, index = plan.dues[note].frame, note
    elif bar is not None:
        passage, bpm = plan.exercise.passage, plan.exercise.tempo_bpm
        beats = passage.bars[bar].start_beats
        first = plan.downbeat_frame + frames_from_downbeat(
            beats / passage.pulse_beats, bpm, plan.rate
        )
        index = sum(one.start_beats < beats for one in passage.notes)
    elif clicks:
        return plan.start_frame
    else:
        first, index = plan.downbeat_frame, 0
    if index < len(report.verdicts):
        first = min(first, start_of(report.verdicts[index]))
    return max(plan.start_frame, first - round(LEAD_S * plan.rate))


def whereabouts(plan: Plan, report: Report, frame: int) -> dict[str, Any]:
    """What of a view changes while the take sounds: phase, click, note, verdicts so far."""
    begun = [verdict for verdict in report.verdicts if start_of(verdict) <= frame]
    return {
        "phase": "count-in" if frame < plan.downbeat_frame and not begun else "playing",
        "pulse": plan.pulse_at(frame),
        "now": begun[-1].index if begun else None,
        "verdicts": tuple(begun),
    }


def heard_notes(take: Take, report: Report) -> list[HeardNote]:
    """What was heard, as notes: each until the next one, or as long as it was to be."""
    verdicts = {v.attack.frame: v for v in report.verdicts if v.attack is not None}
    attacks = sorted(take.attacks, key=lambda attack: attack.frame)
    ends: Sequence[int | None] = [*(after.frame for after in attacks[1:]), None]
    made = (
        _note(attack, end, verdicts.get(attack.frame), take.plan.rate)
        for attack, end in zip(attacks, ends, strict=True)
    )
    return [note for note in made if note is not None]


def _note(attack: Attack, end: int | None, verdict: Verdict | None, rate: int) -> HeardNote | None:
    pitch = attack.pitch
    if pitch is None and verdict is not None:
        pitch = verdict.due.pitch
    length = round(LONGEST_EXTRA_S * rate) if verdict is None else verdict.due.length_frames
    length = length if end is None else min(length, end - attack.frame)
    if pitch is None or length <= 0:
        return None
    slurred = verdict is not None and verdict.due.slurred
    return HeardNote(attack.frame, length, pitch, attack.level_db, slurred)


def same_passage(one: Plan, other: Plan) -> bool:
    """Whether the same notes were to be played, at whatever tempo."""
    a, b = one.exercise.passage.notes, other.exercise.passage.notes
    return len(a) == len(b) and all(
        (x.pitch, x.start_beats, x.length_beats) == (y.pitch, y.start_beats, y.length_beats)
        for x, y in itertools.zip_longest(a, b)
    )
