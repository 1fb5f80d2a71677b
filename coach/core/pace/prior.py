"""What is believed about the ceiling before the first take of a session.

All figures are assumptions, no source, wide enough to be overruled by a handful of takes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.gate import SLOWEST_SHARE_OF_START
from coach.core.pace.belief import CELL_LN, CURVE_WEIGHTS, HIGHEST_TARGET, Belief

# The ceiling is looked for from this share of the slowest tempo to this share of the goal.
LOWEST_SHARE, HIGHEST_SHARE = 0.8, 1.4
# On the way from the start to the goal, in log tempo: where the ceiling is guessed, how far off.
GUESSED_AT, GUESSED_SD, LEAST_SD_LN = 0.4, 0.5, 0.15
ANYWHERE = 0.1
# A night moves the ceiling by some 2 % either way, longer pauses by more, never by more than 15 %.
NIGHT_SD_LN, LONGEST_SD_LN = 0.02, 0.15
FORGOTTEN = 0.05


@dataclass(frozen=True, slots=True)
class EarlierTake:
    """A take of an earlier session on the same passage: `clean` of `counted` notes."""

    tempo_bpm: float
    clean: int
    counted: int
    days_ago: float


def first_belief(from_bpm: float, to_bpm: float, threshold: float) -> Belief:
    """Nothing is known but from where to where the player wants to go."""
    lowest_ln = math.log(from_bpm * SLOWEST_SHARE_OF_START * LOWEST_SHARE)
    cells = math.ceil((math.log(to_bpm * HIGHEST_SHARE) - lowest_ln) / CELL_LN)
    way_ln = math.log(to_bpm / from_bpm)
    guess_ln = math.log(from_bpm) + GUESSED_AT * way_ln
    sd_ln = max(LEAST_SD_LN, GUESSED_SD * way_ln)
    bell = [
        math.exp(-0.5 * ((lowest_ln + k * CELL_LN - guess_ln) / sd_ln) ** 2) for k in range(cells)
    ]
    total = sum(bell)
    row = [(1 - ANYWHERE) * weight / total + ANYWHERE / cells for weight in bell]
    weights = tuple(tuple(share * weight for weight in row) for share in CURVE_WEIGHTS)
    return Belief(lowest_ln, min(threshold, HIGHEST_TARGET), weights)


def belief_from(
    from_bpm: float, to_bpm: float, threshold: float, earlier: Sequence[EarlierTake]
) -> Belief:
    """What earlier takes tell, the less the longer ago they were; takes without notes are left out.

    The takes may come in any order; nothing is known of what happened between them but the days.
    """
    (belief,) = beliefs_from(from_bpm, to_bpm, threshold, earlier, [0.0])
    return belief


def beliefs_from(
    from_bpm: float,
    to_bpm: float,
    threshold: float,
    earlier: Sequence[EarlierTake],
    days_ago: Sequence[float],
) -> list[Belief]:
    """The same as it was believed so many days ago, one after the other from the first: what the
    takes up to then tell."""
    nothing = belief = first_belief(from_bpm, to_bpm, threshold)
    takes = sorted((t for t in earlier if t.counted), key=lambda take: -take.days_ago)
    last = takes[0].days_ago if takes else 0.0
    found, at = [], 0
    for wanted in days_ago:
        while at < len(takes) and takes[at].days_ago >= wanted:
            take = takes[at]
            belief = _after_days(belief, last - take.days_ago)
            belief = belief.after_take(take.tempo_bpm, take.clean, take.counted)
            last, at = take.days_ago, at + 1
        found.append(_after_days(belief, last - wanted).mixed(nothing, FORGOTTEN))
    return found


def _after_days(belief: Belief, days: float) -> Belief:
    if days <= 0:
        return belief
    return belief.drifted(0.0, max(CELL_LN / 2, min(LONGEST_SD_LN, NIGHT_SD_LN * math.sqrt(days))))
