"""One note looked for in a window of hops: where it stands out, and when that is enough to say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Line = NDArray[np.floating]

HOLD_HOPS = 8
SIGHT_HOPS = 1
COMMIT_MARGIN = 2.0
RIVAL_MARGIN = 5.0
MOST_RIVALS = 3
FINE_HOPS = 2


@dataclass(frozen=True, slots=True)
class View:
    """One note over the hops seen of its window: log scores of each hop, and of "not played" after
    each hop."""

    line: Line
    absent: Line

    def chances(self, until: int) -> Line:
        """Log chances after `until` hops: of each, and last of "not played"."""
        scores = np.append(self.line[:until], self.absent[until - 1])
        top = scores.max()
        logs: Line = scores - top - np.log(np.exp(scores - top).sum())
        return logs

    def stops(self, *, whole: bool) -> list[tuple[int, bool]]:
        """(hops seen, is that all?): where to decide: at the first hop at which one has stood out
        long enough, and at the end of the window."""
        best = np.maximum.accumulate(self.line)
        firsts = np.flatnonzero(np.diff(best, prepend=-np.inf) > 0)
        top = firsts[np.searchsorted(firsts, np.arange(len(best)), side="right") - 1]
        held = np.arange(len(best)) - top >= HOLD_HOPS
        clear = held & (best > self.absent + COMMIT_MARGIN)
        stops = [(int(np.argmax(clear)) + 1, False)] if clear.any() else []
        return [*stops, (len(best), True)] if whole else stops

    def first_sight(self) -> tuple[int, float] | None:
        """(Best hop, its share of chance), if it stands out and has done so for an instant."""
        top = int(np.argmax(self.line))
        held = len(self.line) - 1 - top >= SIGHT_HOPS
        if not held or self.line[top] < self.absent[-1] + COMMIT_MARGIN:
            return None
        return top, mass_near(self.chances(len(self.line)), top)


def peaks(line: Line) -> list[int]:
    """The best hop, and other peaks that come near it."""
    best = int(np.argmax(line))
    inner = np.flatnonzero((line[1:-1] >= line[:-2]) & (line[1:-1] > line[2:])) + 1
    near = [int(k) for k in inner if abs(k - best) > 2 and line[k] > line[best] - RIVAL_MARGIN]
    return [best, *sorted(near, key=lambda k: -line[k])[: MOST_RIVALS - 1]]


def fine_place(line: Line, top: int) -> float:
    """The mean of the hops around the peak `top`, weighted by their chances."""
    near = np.arange(max(0, top - FINE_HOPS), min(top + FINE_HOPS + 1, len(line)))
    weights = np.exp(line[near] - line[top])
    return float(near @ weights / weights.sum())


def mass_near(chances: Line, top: int, hops: int = 2 * FINE_HOPS) -> float:
    """The share of chance within so many hops of `top`; the last of `chances` is no hop."""
    return float(np.exp(chances[max(0, top - hops) : min(top + hops + 1, len(chances) - 1)]).sum())
