"""What stands in the book after made-up players practised passages of one kind, day after day.

The players are those of `learners`: nothing about them is as `core/pace/belief` assumes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random
from statistics import fmean

from coach.core.gate import Gate
from coach.core.pace.ceiling import CeilingPacer
from coach.core.pace.pacer import Pacer
from coach.core.pace.prior import EarlierTake
from coach.core.pace.steps import StepsPacer
from tests.bed.learners import Learner, learner

FIRST_DAY, SESSION_TAKES = 739_000, 10
GATE = Gate()
# From and to, and the takes of earlier days.
Make = Callable[[float, float, list[EarlierTake]], Pacer]
RULES: dict[str, Make] = {
    "gate": lambda low, high, earlier: StepsPacer(low, high, GATE),
    "ceiling": lambda low, high, earlier: CeilingPacer(low, high, GATE, earlier, endless=True),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One take, as the book tells it."""

    day: int
    drill: str
    tempo_bpm: float
    clean: int
    counted: int
    title: str = ""
    scale: str | None = "G major"
    tonguing: str | None = "ta ka"
    notes_a_click: float = 4.0
    passed: bool = True
    seconds: float = 20.0


@dataclass
class Practised:
    """The takes of several passages in order, and the ceiling of each as it was then."""

    rows: list[Row]
    ceilings_bpm: list[dict[str, float]]

    def kind_hz(self, takes: int) -> float:
        """The true rate of the kind after so many takes: the mean of its passages, by takes (in
        log tempo, at four notes a click)."""
        now = self.ceilings_bpm[takes - 1]
        return math.exp(fmean(math.log(now[row.drill]) for row in self.rows[:takes])) * 4 / 60


def practised(
    random: Random,
    takes: int,
    *,
    rule: str = "gate",
    passages: int = 1,
    apart_ln: float = 0.0,
    learning: bool = False,
) -> Practised:
    """So many takes in sessions of ten, one session and passage a day; the passages lie `apart_ln`
    from each other (standard deviation).  Unless `learning`, the player stays as he is."""
    first = learner(random)
    if not learning:
        first = replace(first, gain=0.0, tiring=0.0)
    players = {f"p{k}": _like(first, apart_ln, random) for k in range(passages)}
    made = Practised([], [])
    ceilings = {name: player.ceiling_bpm() for name, player in players.items()}
    while len(made.rows) < takes:
        day = len(made.rows) // SESSION_TAKES
        name = f"p{day % passages}"
        pacer = _pacer(made.rows, name, ceilings[name], FIRST_DAY + day, rule, random)
        for _ in range(SESSION_TAKES):
            bpm = pacer.pace.tempo_bpm
            clean = players[name].play(bpm, random)
            pacer.after_take(clean, players[name].notes)
            made.rows.append(Row(FIRST_DAY + day, name, bpm, clean, players[name].notes))
            if learning:
                ceilings = {**ceilings, name: players[name].ceiling_bpm()}
            made.ceilings_bpm.append(ceilings)
    return made


def _like(player: Learner, apart_ln: float, random: Random) -> Learner:
    return replace(player, point_bpm=player.point_bpm * math.exp(random.gauss(0, apart_ln)))


def _pacer(
    rows: list[Row], name: str, ceiling_bpm: float, day: int, rule: str, random: Random
) -> Pacer:
    """A session begins some way under the ceiling and is on its way to a goal above it."""
    low, high = ceiling_bpm * random.uniform(0.75, 0.95), ceiling_bpm * random.uniform(1.1, 1.5)
    mine = [row for row in rows if row.drill == name]
    earlier = [EarlierTake(r.tempo_bpm, r.clean, r.counted, day - r.day) for r in mine]
    return RULES[rule](low, high, earlier)
