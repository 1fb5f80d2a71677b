"""What happened: sound in, attacks heard, verdicts given.

Frames are counted on the input stream, the round trip already subtracted, so a due note and a heard
attack are two integers on one axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.timeline import Due, Plan

VERDICTS = ("unsure", "missed", "wrong", "split", "muffled", "early", "late", "clean")


@dataclass(frozen=True, slots=True)
class NoteEvent:
    """A MIDI note on (or off) at `frame`; `pitch` sounding, `velocity` 0 to 127."""

    frame: int
    pitch: int
    velocity: int
    on: bool


@dataclass(frozen=True, slots=True)
class Gap:
    """Sound that was never heard: lost by the device, or masked by the click."""

    frame: int
    length_frames: int
    cause: str = "lost"

    @property
    def end_frame(self) -> int:
        return self.frame + self.length_frames


@dataclass(frozen=True, slots=True)
class Chunk:
    """A stretch of input: from `frame`, `length_frames` long.

    `samples` (float32, mono, exactly `length_frames` of them) is None for MIDI input; `notes` are
    the MIDI events known by now, `gaps` the stretches that were lost (filled with silence).
    `beside` is what came in of other players meanwhile.
    """

    frame: int
    length_frames: int
    samples: Sequence[float] | None = None
    notes: tuple[NoteEvent, ...] = ()
    gaps: tuple[Gap, ...] = ()
    beside: tuple[Chunk, ...] = ()

    @property
    def end_frame(self) -> int:
        return self.frame + self.length_frames

    @property
    def lost_frames(self) -> int:
        return sum(gap.length_frames for gap in self.gaps)


@dataclass(frozen=True, slots=True)
class Attack:
    """The start of one note as it was heard.

    `frame` is the physical start (the first instant at which the note's own sound rises
    out of what was there before; for a slur, at which the new pitch takes over).  `pitch` is the
    fractional MIDI number on which it settled, None if it never did; `fine` says that the cents are
    good.  `settle_frames` is the time on another partial, or on none, before it settled.
    `lag_frames`: the pitch changed that long after (before: negative) the tongue released.
    `due` is the index of the expected note it was heard as, None if the ear does not say.
    `level_db` is relative to full scale; `confidence` and `muffled` (the chance that it did not
    speak, from an ear that can tell under an echo) run from 0 to 1.
    """

    frame: int
    pitch: float | None
    level_db: float | None = None
    rise_frames: int | None = None
    settle_frames: int = 0
    lag_frames: int | None = None
    fine: bool = False
    confidence: float = 1.0
    due: int | None = None
    muffled: float | None = None


@dataclass(frozen=True, slots=True)
class Evidence:
    """What an ear reports after a chunk.

    Every attack up to `up_to_frame` has been reported.  `refined` are attacks told before, measured
    better now that the whole note was heard (same `due`).  `resolved` is the number of expected
    notes settled for good, for an ear that follows the score; None for one that does not.
    `glimpsed` is a note that begins to show, told once and long before it can be settled (`due`,
    `frame` and `confidence` only): for the eye, no verdict may rest on it.  `waiting`: others who
    play beside this one are not heard to their end yet.
    """

    attacks: tuple[Attack, ...] = ()
    gaps: tuple[Gap, ...] = ()
    up_to_frame: int = 0
    resolved: int | None = None
    refined: tuple[Attack, ...] = ()
    glimpsed: Attack | None = None
    waiting: bool = False


@dataclass(frozen=True, slots=True)
class Match:
    """A due note beside the attack that was heard for it; `lost`: the sound was lost there."""

    due: Due
    attack: Attack | None
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is said of one due note; frames where the name says so, times relative to the due."""

    index: int
    kind: str
    due: Due
    attack: Attack | None
    deviation_frames: float | None = None
    midi: int | None = None
    cents: float | None = None
    level_db: float | None = None
    confidence: float = 1.0


@dataclass(frozen=True, slots=True)
class Take:
    """One finished take: the plan, everything heard (so that later rules can judge it again),
    and what was lost."""

    number: int
    plan: Plan
    attacks: tuple[Attack, ...]
    gaps: tuple[Gap, ...]
    resolved: bool
    lost_frames: int = 0
    clipped: bool = False
