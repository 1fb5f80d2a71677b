"""From values to places in a picture, and round values to mark on an axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

_STEPS = (1, 2, 5, 10)


@dataclass(frozen=True, slots=True)
class Scale:
    """Values from `low` to `high` lie from `start` to `end` (which may be the smaller)."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def held(self, value: float) -> float:
        """The place of a value, at the edge where it lies outside."""
        return self(min(max(value, self.low), self.high))


def step_of(low: float, high: float, most: int) -> float:
    """The smallest of 1, 2, 5, 10, 20 ... of which at most `most` fit between."""
    rough = max(high - low, 1e-9) / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in _STEPS if step * power >= rough * (1 - 1e-9))


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round values from below `low` to above `high`, evenly apart: about `most` steps; at least
    two values, even around equal ones."""
    if high - low < 1e-9:
        low, high = low - 1, high + 1
    step = step_of(low, high, most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [step * k for k in range(first, last + 1)]


def tick_words(value: float) -> str:
    """ "0.5", "20", "−5": a true minus sign."""
    return f"{value:.10g}".replace("-", "−")
