"""Where the next note is to be looked for: how far the player is from the click, and how it moves.

An alpha-beta filter (a fixed-gain tracker of place and speed) over the deviations of the notes that
were heard: it follows a player who drifts, or is thirty per cent slower than the click.
"""

from __future__ import annotations

from dataclasses import dataclass

PLACE_GAIN = 0.5
SPEED_GAIN = 0.05
FASTEST_DRIFT = 0.7
FORGET_SPEED = 0.85


@dataclass(frozen=True, slots=True)
class Lean:
    """Deviation in frames at a due frame, and its growth a frame of the score; notes `missed`
    since the last one heard."""

    due_frame: float
    frames: float = 0.0
    growth: float = 0.0
    missed: int = 0
    known: bool = False

    def at(self, due_frame: float) -> float:
        """The deviation to expect at a due frame."""
        return self.frames + self.growth * (due_frame - self.due_frame)

    def heard(self, due_frame: float, deviation: float, trust: float) -> Lean:
        """After a note; `trust` (0 to 1) is how sure it is."""
        if not self.known:
            return Lean(due_frame, deviation, 0.0, 0, known=True)
        expected = self.at(due_frame)
        passed = max(1.0, due_frame - self.due_frame)
        wrong = deviation - expected
        growth = self.growth + SPEED_GAIN * trust * wrong / passed
        growth = max(-FASTEST_DRIFT, min(FASTEST_DRIFT, growth))
        return Lean(due_frame, expected + PLACE_GAIN * trust * wrong, growth, 0, known=True)

    def not_heard(self) -> Lean:
        """After a note that was missed: stay, trust the speed less."""
        return Lean(
            self.due_frame, self.frames, self.growth * FORGET_SPEED, self.missed + 1, self.known
        )
