"""A take of a line that is given, spliced from recorded notes: `lined_take`."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coach.core.timeline import Due
from tests.bed import line
from tests.bed.faults import slips
from tests.bed.render import Score, parts_of, truth_of
from tests.bed.room import recorded
from tests.bed.sources import SourceNote
from tests.bed.splice import SPARSE_SHIFT, Shelf, sounded
from tests.bed.take import RATE, Take, expected_of, timed

TAIL_S, TUNING = 0.6, 0.2


def lined_take(
    rng: np.random.Generator,
    notes: Sequence[SourceNote],
    dues: Sequence[Due],
    rate: int,
    before_s: float,
) -> Take:
    """The horn plays the `dues` (frames at `rate`, frame 0 is `before_s` in the take) with mistakes
    and is otherwise tight; no room.  Rests are rests."""
    score = _score(rng, dues, rate, before_s)
    mine = [note for note in notes if note.instrument == "horn"]
    shelf = Shelf(mine, int(rng.integers(3)), rng, SPARSE_SHIFT)
    parts, extras = parts_of(rng, score, float(rng.uniform(-TUNING, TUNING)))
    frames = max(part.stop for part in parts) + round(TAIL_S * RATE)
    assert score.lengths is not None
    expected = expected_of("horn", score.onsets, score.lengths, score.pitches, score.slurred)
    samples = recorded(rng, sounded(parts, shelf, frames), "dry")
    return Take(samples, RATE, expected, timed(truth_of(score), expected), extras, "lined")


def _score(rng: np.random.Generator, dues: Sequence[Due], rate: int, before_s: float) -> Score:
    pitches, slurred = [due.pitch for due in dues], [due.slurred for due in dues]
    onsets = np.array([before_s + due.frame / rate for due in dues])
    lengths = np.array([due.length_frames / rate for due in dues])
    shortest_s = float(np.min(np.diff(onsets)))
    made = slips(rng, pitches, slurred, shortest_s, faults=True, lags=False)
    attacks = onsets + line.tight(rng, onsets) + [slip.off_s for slip in made]
    attacks = line.in_order(np.maximum(attacks, 0.05), onsets, 0.4)
    return Score(pitches, slurred, onsets, attacks, made, shortest_s, lengths)
