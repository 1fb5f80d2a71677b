"""The whole score as it sounds around one player's line."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.core.warp import Warp

# Where nothing else is said; MIDI velocity, 1 to 127.
USUAL_VELOCITY, ACCENT_VELOCITY = 80, 104


@dataclass(frozen=True, slots=True)
class Sounded:
    """One note that is heard: `pitch` the sounding MIDI number, beats quarter notes of the page
    from the start of the excerpt, `velocity` as in MIDI."""

    start_beats: Fraction
    length_beats: Fraction
    pitch: int
    velocity: int = USUAL_VELOCITY

    @property
    def end_beats(self) -> Fraction:
        return self.start_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class Voice:
    """One part of the score: its notes in order of time (chords as several), and the General MIDI
    program (0 to 127) that comes nearest to its instrument."""

    name: str
    program: int
    notes: tuple[Sounded, ...]


@dataclass(frozen=True, slots=True)
class Ensemble:
    """All parts over the bars of an excerpt, in the order of the score; `own` is the player's.

    `warp` says how the tempo changes on the way (None: it does not); `length_beats` is the end of
    the last bar.
    """

    voices: tuple[Voice, ...]
    own: int
    length_beats: Fraction
    warp: Warp | None = None

    @property
    def others(self) -> tuple[int, ...]:
        return tuple(k for k in range(len(self.voices)) if k != self.own)
