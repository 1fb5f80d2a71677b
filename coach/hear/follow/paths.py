"""One way to read the sound so far: which attack was which note, and where the next is expected."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from coach.core.timeline import Due
from coach.hear.follow.frames import HOP, RATE
from coach.hear.follow.lean import FASTEST_DRIFT, FORGET_SPEED, Lean
from coach.hear.follow.loudness import Loudness

MOST_PATHS = 5
HOPELESS = 5.0
ALIKE_FRAMES = 3 * HOP


@dataclass(frozen=True, slots=True)
class Found:
    """What was found for an expected note; frames at the working rate.

    `frame` None: not played; `low_frame` is where it was looked for first, `rival_frame` the attack
    that came nearest to being it.  `pitch_offset` in semitones from the expected one, None for no
    pitch; the others are chances between 0 and 1.
    """

    index: int
    frame: float | None
    sure: float
    low_frame: float = 0.0
    takeover_frame: float | None = None
    pitch_offset: int | None = None
    there: float = 0.0
    right: float = 0.0
    split: float = 0.0
    muffled: float = 0.0
    rival_frame: float | None = None

    def is_like(self, other: Found) -> bool:
        """Whether both say the same of the note."""
        if self.frame is None or other.frame is None:
            return self.frame is other.frame
        return abs(self.frame - other.frame) <= ALIKE_FRAMES


@dataclass(frozen=True, slots=True)
class Path:
    """A reading up to some note: log `score`, the last attack, and the `trail` of what is not yet
    settled."""

    lean: Lean
    last_frame: float = -RATE
    loudness: Loudness = field(default_factory=Loudness)
    score: float = 0.0
    trail: tuple[Found, ...] = ()

    def missed(self, found: Found, gain: float) -> Path:
        """The note was not played."""
        return replace(
            self,
            lean=self.lean.not_heard(),
            score=self.score + gain,
            trail=(*self.trail, found),
        )

    def heard(self, found: Found, due: Due, loudness: Loudness, gain: float) -> Path:
        """The note was played there."""
        assert found.frame is not None
        trust = min(found.sure, found.there) * found.right
        lean = self.lean.heard(due.frame, found.frame - due.frame, trust)
        return Path(lean, found.frame, loudness, self.score + gain, (*self.trail, found))

    def settled(self) -> Path:
        """Without the first of the trail."""
        return replace(self, trail=self.trail[1:])

    def fresh(self) -> Path:
        """Without a trail and its score, to be compared over the notes that follow."""
        return replace(self, score=0.0, trail=())

    def begun_again(self, due_frame: float, frame: float) -> Path:
        """With a note due at `due_frame` expected at `frame`, at the speed so far."""
        speed = self.lean.growth / FORGET_SPEED**self.lean.missed
        lean = Lean(
            due_frame,
            frame - due_frame,
            max(-FASTEST_DRIFT, min(FASTEST_DRIFT, speed)),
            known=True,
            growth_var=self.lean.growth_var,
        )
        return replace(self.fresh(), lean=lean)


def best_paths(paths: Sequence[Path]) -> tuple[Path, ...]:
    """The best first; of those that end alike only the better, none that is hopeless."""
    kept: list[Path] = []
    for path in sorted(paths, key=lambda p: -p.score):
        if kept and path.score < kept[0].score - HOPELESS:
            break
        if not any(_ends_alike(path, other) for other in kept):
            kept.append(path)
    return tuple(kept[:MOST_PATHS])


def _ends_alike(one: Path, other: Path) -> bool:
    return abs(one.last_frame - other.last_frame) <= HOP and one.trail[-1].is_like(other.trail[-1])


def agreement(paths: Sequence[Path]) -> float:
    """The share of all chances with the paths that say the same as the first of its first note."""
    first = paths[0].trail[0]
    chances = [math.exp(p.score - paths[0].score) for p in paths]
    alike = sum(c for c, p in zip(chances, paths, strict=True) if p.trail[0].is_like(first))
    return alike / sum(chances)
