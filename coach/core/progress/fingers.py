"""Which finger moves lag?  All that were played, by the fingers that go up and those that go
down; moves of the thumb apart."""

from __future__ import annotations

from dataclasses import dataclass

from coach.core.findings.weigh import SMALLEST_LAG_MS
from coach.core.fingering.moves import FingerMove
from coach.core.profile.estimate import Estimate
from coach.core.profile.profile import Profile
from coach.core.profile.weakest import move_words

# Lags from which a cell is drawn darker, in ms (an ordinary one is 15, see the profile's prior).
STEPS_MS = (8.0, 14.0, 20.0, 28.0)


@dataclass(frozen=True, slots=True)
class Cell:
    """One move: its lag in ms (valves behind the tongue: positive) and the share that was clean."""

    move: FingerMove
    lag_ms: Estimate
    clean: Estimate

    @property
    def sure(self) -> bool:
        """Whether the lag is known as exactly as it is heard."""
        return self.lag_ms.high - self.lag_ms.low <= 2 * SMALLEST_LAG_MS

    @property
    def late(self) -> bool:
        """Whether the valves surely come late, by so much that it is heard."""
        return self.lag_ms.low > 0 and self.lag_ms.value >= SMALLEST_LAG_MS

    @property
    def shade(self) -> int:
        """0 to 4, by how late the valves come."""
        return sum(self.lag_ms.value >= step for step in STEPS_MS)


@dataclass(frozen=True, slots=True)
class Fingers:
    """`cells` by fingers going up and fingers going down ("" for none), `thumbs` the moves in which
    the thumb has a part, the slowest first."""

    ups: tuple[str, ...]
    downs: tuple[str, ...]
    cells: dict[tuple[str, str], Cell]
    thumbs: tuple[Cell, ...]

    @property
    def slowest(self) -> Cell | None:
        """Of the moves that are sure, the one whose valves surely come latest."""
        every = [*self.cells.values(), *self.thumbs]
        late = [
            c for c in every if c.sure and c.lag_ms.low > 0 and c.lag_ms.value >= SMALLEST_LAG_MS
        ]
        return max(late, key=lambda cell: cell.lag_ms.low, default=None)


def fingers_of(profile: Profile) -> Fingers:
    """All moves of the profile."""
    cells = [Cell(move, seen.value, seen.clean) for move, seen in profile.moves.items()]
    plain = [cell for cell in cells if not cell.move.thumb]
    thumbs = [cell for cell in cells if cell.move.thumb]
    return Fingers(
        _sorted({cell.move.ups for cell in plain}),
        _sorted({cell.move.downs for cell in plain}),
        {(cell.move.ups, cell.move.downs): cell for cell in plain},
        tuple(sorted(thumbs, key=lambda cell: -cell.lag_ms.value)),
    )


def _sorted(fingers: set[str]) -> tuple[str, ...]:
    """None first, then one finger, two, three."""
    return tuple(sorted(fingers, key=lambda names: (len(names), names)))


def fingers_words(fingers: Fingers) -> str:
    """ "Slowest: 1 up and 3 down, the valves come 22 ms after the tongue (17 to 27)."."""
    every = [*fingers.cells.values(), *fingers.thumbs]
    if not any(cell.sure for cell in every):
        return "Too few moves were heard to tell."
    worst = fingers.slowest
    if worst is None:
        return "None: no move surely comes late."
    lag = worst.lag_ms
    told = f"{lag.value:.0f} ms after the tongue ({lag.low:.0f} to {lag.high:.0f})"
    return f"Slowest is {move_words(worst.move)}: the valves come {told}."
