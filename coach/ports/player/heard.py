"""Notes as they were heard, sounded again: for takes without a sound of their own."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from coach.core.playback import HeardNote, Slowed
from coach.ports.click import Samples
from coach.ports.player.skill import PlayedNote, usual_level_db
from coach.ports.player.tone import render

LARGEST_STEP_DB = 15.0
# How long notes were held is not known: a gap before the next tongued one lets it be heard.
HELD_SHARE = 0.75


def sounded(notes: Sequence[HeardNote], slowed: Slowed, end_frame: int) -> Samples:
    """The notes (in order of time) as simple brass tones, float32 from the playback of the plan's
    `start_frame` up to that of `end_frame`.  The loudness of each is that against the others."""
    levels = [note.level_db for note in notes if note.level_db is not None]
    usual = median(levels) if levels else 0.0
    shares = [1.0 if after.slurred else HELD_SHARE for after in notes[1:]]
    played = [
        _played(note, slowed, usual, share)
        for note, share in zip(notes, [*shares, HELD_SHARE], strict=False)
    ]
    return render(played, slowed.rate, 0, slowed.whole(end_frame))


def _played(note: HeardNote, slowed: Slowed, usual_db: float, held: float) -> PlayedNote:
    frame = slowed.whole(note.frame)
    step = 0.0 if note.level_db is None else note.level_db - usual_db
    step = max(-LARGEST_STEP_DB, min(LARGEST_STEP_DB, step))
    return PlayedNote(
        frame,
        max(1, round(held * (slowed.whole(note.frame + note.length_frames) - frame))),
        note.pitch,
        usual_level_db(note.pitch) + step,
        slurred=note.slurred,
    )
