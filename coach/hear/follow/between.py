"""Notes that nobody asked for, looked for between two notes that were found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.hear.follow.bank import Bank
from coach.hear.follow.frames import HOP, RATE
from coach.hear.follow.inputs import (
    MIDDLE_CLASS,
    PITCH_CLASSES,
    NoteContext,
    note_context,
    note_inputs,
)
from coach.hear.follow.loudness import Loudness
from coach.hear.follow.net import (
    AHEAD_HOPS,
    BACK_HOPS,
    AttackNet,
    NoteNet,
)
from coach.hear.follow.patch import patch

AFTER_S, BEFORE_S = 0.06, 0.045
FEWEST_HOPS = 8
STANDS_OUT = 3.0
SURELY_THERE = 0.9


@dataclass(frozen=True, slots=True)
class Between:
    """An attack between two notes: frame at the working rate, sounding pitch without tuning."""

    frame: float
    pitch: int


def look_between(
    bank: Bank,
    nets: tuple[AttackNet, NoteNet],
    earlier: tuple[float, int],
    later: tuple[float, int],
    tuning: float,
) -> Between | None:
    """The clearest attack between two notes given as (frame, pitch), if there is one."""
    low = int((earlier[0] + AFTER_S * RATE) // HOP)
    high = int((later[0] - BEFORE_S * RATE) // HOP)
    if high - low < FEWEST_HOPS:
        return None
    pitch = earlier[1]
    note = NoteContext(pitch, pitch, later[1], False, (later[0] - earlier[0]) / 2 / RATE)
    inputs = note_inputs(bank, note, low - BACK_HOPS, high + AHEAD_HOPS)
    scores = nets[0].scores(inputs)
    top = int(np.argmax(scores.attack))
    if scores.attack[top] < nets[0].absent(scores.hidden)[-1] + STANDS_OUT:
        return None
    frame = float((low + top) * HOP)
    seen = patch(bank, round(frame), pitch + tuning)
    known = np.concatenate([note_context(note), Loudness().against(seen, pitch, note.interval_s)])
    pitches, others = nets[1].judge(seen, known)
    best = int(np.argmax(pitches))
    if others["there"] < SURELY_THERE or best >= PITCH_CLASSES:
        return None
    return Between(frame, pitch + best - MIDDLE_CLASS)
