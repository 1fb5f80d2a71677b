"""What a step makes of a passage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.passage import Passage


@dataclass(frozen=True, slots=True)
class Made:
    """One step for one passage, in written pitch.

    `what` names it behind the title of the passage; `why` is the rest of a sentence that begins
    with that title.
    """

    what: str
    about: str
    why: str
    variants: Sequence[Passage]
    from_bpm: float
    to_bpm: float


def still(what: str, about: str, why: str, variants: Sequence[Passage], bpm: float) -> Made:
    """A step at one tempo."""
    return Made(what, about, why, variants, bpm, bpm)
