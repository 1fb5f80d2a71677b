"""What the planner must know of each note at a tempo: times, slurs, phrases, figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.fingering.figures import images_of
from coach.core.fingering.weights import Weights
from coach.core.passage import Passage


@dataclass(frozen=True, slots=True)
class Spot:
    """One note to be fingered.

    `before_s` is the time since the note before began (infinite for the first), `gap_s` the time
    until the next begins (its own length for the last).  `fresh`: it begins a phrase.  `image` is
    the note of an earlier figure that this one repeats, perhaps transposed.  `pinned` must be used;
    `known` is what the fingers know.
    """

    pitch: int
    before_s: float
    gap_s: float
    slurred: bool
    fresh: bool
    image: int | None = None
    pinned: str | None = None
    known: str | None = None


def spots_of(
    passage: Passage,
    tempo_bpm: float,
    weights: Weights,
    *,
    known: Sequence[str | None] | None = None,
) -> tuple[Spot, ...]:
    """The spots of a passage at so many pulses a minute; fingerings written in it are pinned."""
    notes = passage.notes
    beat_s = 60 / tempo_bpm / float(passage.pulse_beats)
    starts = [float(note.start_beats) * beat_s for note in notes]
    ends = [float(note.end_beats) * beat_s for note in notes]
    images = images_of(notes)
    spots = []
    for k, note in enumerate(notes):
        # Rounded, so that equal times are equal.
        before = round(starts[k] - starts[k - 1], 6) if k else float("inf")
        rest = starts[k] - ends[k - 1] if k else float("inf")
        fresh = rest >= weights.phrase_rest_s or before >= weights.long_note_s
        gap = round((starts[k + 1] if k + 1 < len(notes) else ends[k]) - starts[k], 6)
        spots.append(
            Spot(
                note.pitch,
                before,
                gap,
                note.slurred,
                fresh,
                images[k],
                note.fingering,
                known[k] if known else None,
            )
        )
    return tuple(spots)
