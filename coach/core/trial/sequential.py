"""Is one way cleaner?  A sequential sign-flip test on pairs of takes.

The order within each pair is the toss of a fair coin.  If the ways are equal, what is heard in the
first take and in the second would have been heard whatever the toss; only the sign of "a less b"
hangs on it.  So the differences seen, with every choice of signs, are all that could have
happened, equally likely (Fisher 1935, The Design of Experiments: the randomization test), whatever
the player does meanwhile: learning, tiring, notes or takes that hang together, a second take better
than the first.  After each pair the outermost sums are a decision, as many as are allowed by then;
the sums decided earlier are left out (error spending: Lan and DeMets 1983, Biometrika 70:659, in
the power family of Kim and DeMets 1987, Biometrika 74:149; from memory).  All is exact: no variance
is estimated, no distribution assumed.  It holds as long as the tempo and the end hang on both ways
alike, never on which of them was better.

The same walk with a difference taken off each pair says whether the ways differ by that much or
less: against the difference that matters for "even", against any for the interval (repeated
confidence interval: Jennison and Turnbull 1989, J. R. Statist. Soc. B 51:305), valid whenever
the player stops.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

# Differences are counted in steps of this many radians, a fifteenth of their usual spread.
STEP_RAD = 0.03
_FARTHEST_STEPS = math.ceil(math.pi / STEP_RAD)
_SAME = 1e-12


def stabilised(clean: float, counted: float) -> float:
    """A count of clean notes as an angle in radians (0 to pi) whose variance is near
    1 / (counted + 1/2) at any level (Anscombe 1948, Biometrika 35:246)."""
    return 2 * math.asin(math.sqrt((clean + 3 / 8) / (counted + 3 / 4)))


def steps(difference_rad: float) -> int:
    """In whole steps; the same size either side of nought."""
    size = math.floor(abs(difference_rad) / STEP_RAD + 0.5)
    return size if difference_rad >= 0 else -size


@dataclass(frozen=True, slots=True)
class Walk:
    """The sums that tosses could have given, each with its chance, decided ones left out.

    `chances[i]` belongs to the sum `i - len(chances) // 2`, in steps; `total` is the sum seen.
    `two_sided` decides at both ends, else at the low one.
    """

    two_sided: bool = True
    chances: tuple[float, ...] = (1.0,)
    total: int = 0
    spent: float = 0.0
    crossed_here: bool = False
    crossed: bool = False

    def after(self, step: int, allowed: float) -> Walk:
        """One pair on, with `allowed` the share of walks that may be decided by now."""
        chances = _tossed(self.chances, abs(step))
        half = len(chances) // 2
        bound, spent = _bound(chances, self.two_sided, allowed - self.spent)
        low = half - bound + 1
        high = half + bound if self.two_sided else len(chances)
        kept = (*[0.0] * low, *chances[low:high], *[0.0] * (len(chances) - high))
        total = self.total + step
        here = total <= -bound or (self.two_sided and total >= bound)
        return Walk(self.two_sided, kept, total, self.spent + spent, here, self.crossed or here)


def _tossed(chances: tuple[float, ...], size: int) -> tuple[float, ...]:
    """Half of the walks go `size` up, half down."""
    if not size:
        return chances
    aside = (0.0,) * (2 * size)
    down, up = (*chances, *aside), (*aside, *chances)
    return tuple([(a + b) / 2 for a, b in zip(down, up, strict=True)])


def _bound(chances: tuple[float, ...], two_sided: bool, allowed: float) -> tuple[int, float]:
    """The nearest bound (in steps from nought, above it) beyond which the walks have no more than
    the chance allowed, and that chance."""
    half = len(chances) // 2
    bound, spent = half + 1, 0.0
    while bound > 1:
        more = chances[half - bound + 1]
        if two_sided:
            more += chances[half + bound - 1]
        if spent + more > allowed + _SAME:
            break
        bound, spent = bound - 1, spent + more
    return bound, spent


@dataclass(frozen=True, slots=True)
class Difference:
    """One pair: `rad` is way a less way b, stabilised; `matters_rad` the difference that matters
    on the same scale, with as many notes."""

    rad: float
    matters_rad: float


@dataclass(frozen=True, slots=True)
class Spending:
    """How many decisions are allowed by each pair: `share` of all trials by the last, the
    `pairs`-th, in the power family."""

    share: float
    power: float
    pairs: int

    def by(self, pair: int) -> float:
        return self.share * math.pow(min(1.0, pair / self.pairs), self.power)


@dataclass(frozen=True, slots=True)
class Sequential:
    """The test so far.  `differing` spends the false decisions; `hidden` the differences that
    matter and are taken for none."""

    differing: Spending
    hidden: Spending
    seen: tuple[Difference, ...] = ()
    _zero: Walk = field(default_factory=Walk)
    _a_by_much: Walk = field(default_factory=lambda: Walk(two_sided=False))
    _b_by_much: Walk = field(default_factory=lambda: Walk(two_sided=False))

    def after(self, seen: Difference) -> Sequential:
        count = len(self.seen) + 1
        differing, hidden = self.differing.by(count), self.hidden.by(count)
        return Sequential(
            self.differing,
            self.hidden,
            (*self.seen, seen),
            self._zero.after(steps(seen.rad), differing),
            self._a_by_much.after(steps(seen.rad - seen.matters_rad), hidden),
            self._b_by_much.after(steps(-seen.rad - seen.matters_rad), hidden),
        )

    @property
    def cleaner(self) -> Literal["", "a", "b"]:
        """ "a" or "b" once that is clear, else ""."""
        if not self._zero.crossed:
            return ""
        return "a" if self._zero.total > 0 else "b"

    @property
    def even(self) -> bool:
        """Neither is cleaner by as much as matters."""
        return self._a_by_much.crossed and self._b_by_much.crossed

    @property
    def at_limit(self) -> bool:
        return len(self.seen) >= self.differing.pairs

    def interval_rad(self) -> tuple[float, float]:
        """The differences (a less b, radians) that the pairs so far do not rule out, at the rate of
        false decisions; beyond pi either way while they can't rule out any."""
        if not self.seen:
            return -math.inf, math.inf
        middle = steps(sum(d.rad for d in self.seen) / len(self.seen))
        return self._end(middle, -1), self._end(middle, +1)

    def _end(self, middle: int, side: int) -> float:
        """Where on one side of the mean the differences begin to be ruled out, in radians: half
        way between the last step that is not and the first that is."""
        inside, outside = middle, side * (_FARTHEST_STEPS + 1)
        while abs(outside - inside) > 1:
            tried = (inside + outside) // 2
            if self._ruled_out(tried):
                outside = tried
            else:
                inside = tried
        return (inside + outside) / 2 * STEP_RAD

    def _ruled_out(self, shift: int) -> bool:
        walk = walked((steps(d.rad) - shift for d in self.seen), self.differing)
        return walk.crossed_here


def walked(differences: Iterable[int], spending: Spending) -> Walk:
    """A two-sided walk through differences in steps."""
    walk = Walk()
    for count, step in enumerate(differences, 1):
        walk = walk.after(step, spending.by(count))
    return walk
