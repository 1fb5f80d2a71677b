"""How long an instrument takes to answer: from the moment it is told to until its note is heard.

A note begins at the first millisecond that stands 15 dB above all of the tenth of a second before
the call.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.errors import CoachError
from coach.hear.envelope import level_steps_db
from coach.hear.whole import whole

Samples = NDArray[np.float32]

BEFORE_S, LONGEST_S = 0.1, 0.6
CLEAR_DB = 15.0
NEEDED = 4
# Further apart no single number helps.
SPREAD_S = 0.015


@dataclass(frozen=True, slots=True)
class Answer:
    """The delay in frames (the median), and how far the middle half of the notes lies from it."""

    frames: float
    spread_frames: float


def find_answer(samples: Samples, sent_frames: Sequence[int], rate: int) -> Answer:
    """The delay of notes called at `sent_frames` of `samples`, float32 (n,), within 0.6 s.

    CoachError, with the reason, where too few are heard or they come at very different times.
    """
    samples, _ = whole(0, samples, rate)
    found = [one for one in (_one(samples, sent, rate) for sent in sent_frames) if one is not None]
    if len(found) < NEEDED:
        raise CoachError(
            f"{len(found)} of {len(sent_frames)} notes were heard",
            "MIDI instrument",
            "turn it up, move the microphone nearer, and be quiet meanwhile",
        )
    middle = float(np.median(found))
    spread = float(np.median(np.abs(np.array(found) - middle)))
    if spread > SPREAD_S * rate:
        raise CoachError(
            f"its notes came {2000 * spread / rate:.0f} ms apart from one another",
            "MIDI instrument",
            "connect it without a network or wireless link, then measure again",
        )
    return Answer(middle, spread)


def _one(samples: Samples, sent: int, rate: int) -> int | None:
    step = rate // 1000
    before = level_steps_db(samples[max(0, sent - round(BEFORE_S * rate)) : sent], step)
    after = level_steps_db(samples[sent : sent + round(LONGEST_S * rate)], step)
    if len(before) == 0:
        return None
    loud = np.nonzero(after > np.max(before) + CLEAR_DB)[0]
    return int(loud[0]) * step if len(loud) else None
