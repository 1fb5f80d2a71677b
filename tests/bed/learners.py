"""Players made of figures: how many notes of a take come out clean at a tempo, take after take.

Made without regard to what `core.pace` assumes: the share of clean notes falls along other shapes,
slips come in runs, each take has a form of its own, now and then a take breaks down, the ceiling
rises as the passage is learned and sinks with the notes played.  All ranges are assumptions,
no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from statistics import NormalDist

THRESHOLD = 0.9
_NORMAL = NormalDist()
# Five equally likely forms of a take, in standard deviations.
_FORMS = tuple(_NORMAL.inv_cdf((k + 0.5) / 5) for k in range(5))


def weibull(above: float, fall: float) -> float:
    """Few slips for long, then more and more."""
    points = math.log(-math.log(0.9)), math.log(-math.log(0.5))
    return math.exp(-math.exp(points[0] + above / fall * (points[1] - points[0])))


def normal(above: float, fall: float) -> float:
    """As if each note had a fastest tempo of its own."""
    return _NORMAL.cdf(_NORMAL.inv_cdf(0.9) * (1 - above / fall))


def kinked(above: float, fall: float) -> float:
    """All clean up to a tempo, then evenly fewer."""
    return min(1.0, max(0.0, 0.9 - 0.4 * above / fall))


# The clean share at `above` (log tempo): 0.9 at 0, 0.5 at `fall`.
SHAPES: tuple[Callable[[float, float], float], ...] = (weibull, normal, kinked)


@dataclass
class Learner:
    """One player at one passage.  `point_bpm` places the curve; the ceiling follows from it."""

    shape: Callable[[float, float], float]
    point_bpm: float
    fall: float
    lapse: float
    notes: int
    runs: float
    form_sd: float
    breaks: float
    gain: float
    takes_to_learn: float
    fresh_notes: int
    tiring: float
    taken: int = 0

    def play(self, tempo_bpm: float, random: Random) -> int:
        """One take: how many of `notes` are clean."""
        form = random.gauss(0, self.form_sd)
        share = self._share(tempo_bpm, form)
        clean = _clean_in_runs(share, self.runs, self.notes, random)
        if random.random() < self.breaks:
            clean = round(clean * random.uniform(0.2, 0.8))
        self.taken += 1
        return clean

    def share(self, tempo_bpm: float) -> float:
        """The clean share that can be expected of the next take, breakdowns left out."""
        return sum(self._share(tempo_bpm, z * self.form_sd) for z in _FORMS) / len(_FORMS)

    def ceiling_bpm(self, threshold: float = THRESHOLD) -> float:
        """The tempo at which `share` is the threshold, now."""
        low, high = math.log(self.point_bpm) - 2.0, math.log(self.point_bpm) + 1.0
        while high - low > 1e-4:
            middle = (low + high) / 2
            clean = self.share(math.exp(middle)) >= threshold
            low, high = (middle, high) if clean else (low, middle)
        return math.exp(low)

    def _share(self, tempo_bpm: float, form: float) -> float:
        above = math.log(tempo_bpm / self.point_bpm) - self._moved() - form
        return (1 - self.lapse) * self.shape(above, self.fall)

    def _moved(self) -> float:
        """How far the player now is above the start, in log tempo."""
        learned = self.gain * (1 - math.exp(-self.taken / self.takes_to_learn))
        tired = max(0, self.taken * self.notes - self.fresh_notes) / 1000 * self.tiring
        return learned - tired


def _clean_in_runs(share: float, runs: float, length: int, random: Random) -> int:
    """Notes of which a share is clean; after a slip the next note slips more often (`runs` is the
    correlation of neighbours)."""
    slips = 1 - share
    slipped = random.random() < slips
    clean = 0
    for _ in range(length):
        clean += not slipped
        slipped = random.random() < slips + runs * (slipped - slips)
    return clean


def learner(random: Random) -> Learner:
    """Any player, any passage: a ceiling of 60 to 140, 16 to 64 notes, from 90 to 50 % clean
    within 8 to 35 % of tempo."""
    made = Learner(
        shape=random.choice(SHAPES),
        point_bpm=100.0,
        fall=random.uniform(0.08, 0.3),
        lapse=random.uniform(0.0, 0.04),
        notes=random.choice((16, 24, 32, 48, 64)),
        runs=random.uniform(0.0, 0.4),
        form_sd=random.uniform(0.01, 0.05),
        breaks=random.uniform(0.0, 0.05),
        gain=random.uniform(0.0, 0.12),
        takes_to_learn=random.uniform(5, 40),
        fresh_notes=random.randrange(300, 1500),
        tiring=random.uniform(0.0, 0.08),
    )
    made.point_bpm *= math.exp(random.uniform(math.log(60), math.log(140))) / made.ceiling_bpm()
    return made
