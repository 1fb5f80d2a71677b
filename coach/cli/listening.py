"""Recording a stretch of playing to a click, and what was heard in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Note, Passage
from coach.core.take import NoteEvent
from coach.core.timeline import Plan, count_in_frames, plan_take
from coach.core.transcribe import TranscribedNote
from coach.errors import CoachError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RING_S = 1.0


@dataclass(frozen=True, slots=True)
class Recording:
    """Sound from `frame` on (None where there was only MIDI), or the MIDI notes."""

    frame: int
    samples: NDArray[np.float32] | None
    notes: tuple[NoteEvent, ...]


def plan_of_bars(port: Any, layout: Any, bars: int, bpm: float, count_in: int) -> Plan:
    """The clicks of so many bars and their count-in, from the first frame that can still click."""
    length = bars * layout.bar_beats
    # What will be played is not known yet: one long note stands for it.
    passage = Passage((Note(60, Fraction(0), length),), "", layout.bar_beats, layout.pulse_beats)
    exercise = Exercise(passage, bpm, click=ClickStyle(count_in_bars=count_in))
    first = port.earliest_frame()
    return plan_take(exercise, port.rate, first + count_in_frames(exercise, port.rate))


def record(port: Any, plan: Plan, say: Callable[[str], None]) -> Recording:
    """Play the clicks and keep what comes in, until a second after the last bar."""
    import numpy as np

    from coach.hear.whole import whole

    parts, notes, lost = [], [], 0
    start: int | None = None
    port.begin(plan)
    say("Count-in ...")
    told = -1
    try:
        while not port.ended:
            chunk = port.read()
            start = chunk.frame if start is None else start
            gaps, samples = list(chunk.gaps), chunk.samples
            if samples is not None:
                samples, none = whole(chunk.frame, np.asarray(samples, np.float32), port.rate)
                parts.append(samples)
                gaps += none
            lost += sum(g.length_frames for g in gaps if g.end_frame > plan.start_frame)
            notes += chunk.notes
            told = _tell_bar(plan, chunk.end_frame, told, say)
            if chunk.end_frame >= plan.end_frame + RING_S * plan.rate:
                break
    finally:
        port.end()
    if lost:
        say(f"{lost / plan.rate:.2f} s of sound were lost: look closely, or play it again.")
    return Recording(start or 0, np.concatenate(parts) if parts else None, tuple(notes))


def _tell_bar(plan: Plan, frame: int, told: int, say: Callable[[str], None]) -> int:
    """Say which bar has begun; returns the last one told."""
    passage = plan.exercise.passage
    bars = int(passage.length_beats / passage.bar_beats)
    length = (plan.end_frame - plan.downbeat_frame) / bars
    bar = int((frame - plan.downbeat_frame) // length)
    if told < bar < bars:
        say(f"Bar {bar + 1} of {bars}")
        return bar
    return told


def heard_notes(recording: Recording, plan: Plan, lowest_pitch: int) -> list[TranscribedNote]:
    """What was played, in beats from the downbeat; CoachError for a recording without sound."""
    exercise = plan.exercise
    beat = 60 * plan.rate / exercise.tempo_bpm / float(exercise.passage.pulse_beats)

    def beats(frame: int) -> float:
        return (frame - plan.downbeat_frame) / beat

    if recording.samples is None:
        return [
            TranscribedNote(beats(start), None if end is None else beats(end), float(pitch), joined)
            for start, end, pitch, joined in _midi_spans(recording.notes)
        ]
    if not len(recording.samples):
        raise CoachError("no sound came in", "", "see `coach check`")
    return [
        TranscribedNote(
            beats(note.frame + recording.frame),
            beats(note.end_frame + recording.frame),
            note.pitch,
            note.joined,
        )
        for note in _slow_notes(recording, plan, lowest_pitch)
        if note.frame + recording.frame > plan.downbeat_frame - beat / 2
    ]


def _slow_notes(recording: Recording, plan: Plan, lowest_pitch: int) -> Any:
    from coach.hear.clicks import remove_clicks
    from coach.hear.slownotes import hear_slow_notes

    samples, _ = remove_clicks(
        recording.samples,  # type: ignore[arg-type]
        [click.frame - recording.frame for click in plan.clicks],
        plan.rate,
        kinds=[click.kind for click in plan.clicks],
        learn_until_frame=plan.downbeat_frame - recording.frame,
    )
    # The count-in itself is not listened to: its clicks are still in it.
    silent = max(0, plan.downbeat_frame - recording.frame - plan.rate // 4)
    samples = samples.copy()
    samples[:silent] = 0
    return hear_slow_notes(samples, plan.rate, lowest_pitch=lowest_pitch)


def _midi_spans(notes: tuple[NoteEvent, ...]) -> list[tuple[int, int | None, int, bool]]:
    """(start, end, pitch, joined) of one voice: a new note ends the one before."""
    spans: list[tuple[int, int | None, int, bool]] = []
    sounding: int | None = None
    for note in sorted(notes, key=lambda n: n.frame):
        if note.on and note.velocity > 0:
            joined = sounding is not None
            if joined:
                spans[-1] = (spans[-1][0], note.frame, *spans[-1][2:])
            spans.append((note.frame, None, note.pitch, joined))
            sounding = note.pitch
        elif note.pitch == sounding:
            spans[-1] = (spans[-1][0], note.frame, *spans[-1][2:])
            sounding = None
    return spans
