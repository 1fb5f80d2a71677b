"""How soon each way to move the tempo finds a player's ceiling: `python -m tests.benchmarks.pace`.

Simulated players (`tests.bed.learners`) practise one drill each for `TAKES` takes, with every rule.
The drill starts at 45 to 95 % of the player's ceiling and its goal lies 5 to 90 % above it; the
gate asks for 90 %.  Nobody stops early here; the rules' own ends are in the second table.

*Known*: after a take, the estimate is within 3 % of the ceiling that the player now has.  The
estimate of a staircase is the geometric mean of its last six turns (its tempo while there is none),
that of the ceiling rule its posterior mean.  A rule that rests elsewhere than at the ceiling is not
blamed for it: the middle log error of its estimates at takes 11 to 40, over other players, is taken
off (`bias`).  Counts of takes, each the middle player's where nothing else is said:

    5 running   the first take from which on the estimate is known five takes running
    to the end  the first take from which on it is known up to take 40
    2 of 3      the first take from which on it is always known of two players in three
    same eye    5 running, but for every rule with the ceiling rule's posterior of the takes chosen
    near, far   5 running where the drill starts at 80 % of the ceiling and more, or lower
    steep, flat 5 running where 90 % clean falls to 50 % within 16 % of tempo, or in more

Failed takes: the share of 40 and of the first 20, and how many until known (5 running).  `error`:
middle error in per cent after 10 and 20 takes.  `tempo`: at takes 31 to 40, as a share of the
ceiling.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from random import Random
from statistics import fmean, median
from typing import Any

from coach.core.gate import Gate
from coach.core.pace.ceiling import CeilingPacer
from coach.core.pace.pacer import Pacer
from coach.core.pace.steps import StepsPacer
from coach.core.pace.weighted import WeightedPacer
from tests.bed.learners import Learner, learner

TAKES, WITHIN, RUNNING, TURNS, LONGEST = 40, 0.03, 5, 6, 60
STEEP_LN = 0.15
GATE = Gate(threshold=0.9, passes=1, step_percent=4.0, back_after=2)


class FixedSteps(StepsPacer):
    """The gate with steps of so many clicks a minute."""

    STEP_BPM = 4.0

    def after_take(self, clean: int, counted: int) -> None:
        self._gate = replace(self._gate, step_percent=400 / self.pace.tempo_bpm)
        super().after_take(clean, counted)


@dataclass
class Course:
    """What one player did under one rule: per take the tempo, pass or not, and log errors."""

    tempi: list[float]
    passed: list[bool]
    errors: list[float]
    eye_errors: list[float]
    shares: list[float]
    near: bool
    steep: bool


def turns_estimate(tempi: list[float]) -> float:
    """The mean log tempo of the last six turns of a staircase, exp'd; its tempo before any."""
    turns, direction = [], 0
    for before, after in itertools.pairwise(tempi):
        if after == before:
            continue
        now = 1 if after > before else -1
        if direction == -now:
            turns.append(math.log(before))
        direction = now
    return math.exp(fmean(turns[-TURNS:])) if turns else tempi[-1]


Make = Callable[[float, float], Pacer]
RULES: dict[str, Make] = {
    "fixed 4 bpm": lambda low, high: FixedSteps(low, high, GATE),
    "gate 4 %": lambda low, high: StepsPacer(low, high, GATE),
    "weighted": lambda low, high: WeightedPacer(low, high, GATE),
    "ceiling": lambda low, high: CeilingPacer(low, high, GATE, endless=True),
}


def drill_for(player: Learner, random: Random) -> tuple[float, float]:
    """From and to: some way under the player's ceiling, some way over it."""
    ceiling = player.ceiling_bpm()
    return round(ceiling * random.uniform(0.45, 0.95)), round(ceiling * random.uniform(1.05, 1.9))


def practise(player: Learner, make: Make, random: Random) -> Course:
    """`TAKES` takes; each estimate is held against the ceiling that the player has by then."""
    low, high = drill_for(player, random)
    near = low >= 0.8 * player.ceiling_bpm()
    course = Course([], [], [], [], [], near, steep=player.fall < STEEP_LN)
    pacer = make(low, high)
    eye = pacer if isinstance(pacer, CeilingPacer) else CeilingPacer(low, high, GATE, endless=True)
    for _ in range(TAKES):
        tempo = pacer.pace.tempo_bpm
        course.tempi.append(tempo)
        course.shares.append(tempo / player.ceiling_bpm())
        clean = player.play(tempo, random)
        course.passed.append(GATE.passed(clean / player.notes))
        pacer.after_take(clean, player.notes)
        if eye is not pacer:
            eye.pace = eye.pace.moved_to(tempo)
            eye.after_take(clean, player.notes)
        turns = turns_estimate([*course.tempi, pacer.pace.tempo_bpm])
        known, ceiling = eye.estimate_bpm if eye is pacer else turns, player.ceiling_bpm()
        course.errors.append(math.log(known / ceiling))
        course.eye_errors.append(math.log(eye.estimate_bpm / ceiling))
    return course


def courses(make: Make, players: int, seed: int) -> list[Course]:
    """Every rule meets the same players."""
    found = []
    for k in range(players):
        random = Random(f"{seed} {k}")
        found.append(practise(learner(random), make, random))
    return found


def bias(found: list[Course], errors: Callable[[Course], list[float]]) -> float:
    return median(error for course in found for error in errors(course)[10:])


def five_running(errors: list[float], off: float) -> int:
    """The first take from which on the error is small five times running; TAKES + 1 if none is."""
    good = [abs(error - off) <= WITHIN for error in errors]
    for k in range(len(good) - RUNNING + 1):
        if all(good[k : k + RUNNING]):
            return k + 1
    return TAKES + 1


def to_the_end(errors: list[float], off: float) -> int:
    good = [abs(error - off) <= WITHIN for error in errors]
    return TAKES + 1 - next((k for k, ok in enumerate(reversed(good)) if not ok), TAKES)


def two_of_three(found: list[Course], off: float) -> int:
    """The first take from which on two players in three are known at every take."""
    last_bad = -1
    for k in range(TAKES):
        known = sum(abs(course.errors[k] - off) <= WITHIN for course in found)
        last_bad = k if known < 2 / 3 * len(found) else last_bad
    return last_bad + 2


def row(name: str, players: int) -> dict[str, Any]:
    make = RULES[name]
    others, found = courses(make, players // 4, 1), courses(make, players, 2)
    off, eye_off = bias(others, lambda c: c.errors), bias(others, lambda c: c.eye_errors)
    known = [five_running(c.errors, off) for c in found]
    both = list(zip(found, known, strict=True))
    return {
        "rule": name,
        "5 running": median(known),
        "to the end": median(to_the_end(c.errors, off) for c in found),
        "2 of 3": two_of_three(found, off),
        "same eye": median(five_running(c.eye_errors, eye_off) for c in found),
        "near": median(k for c, k in both if c.near),
        "far": median(k for c, k in both if not c.near),
        "steep": median(k for c, k in both if c.steep),
        "flat": median(k for c, k in both if not c.steep),
        "failed": fmean(not ok for c in found for ok in c.passed),
        "of first 20": fmean(not ok for c in found for ok in c.passed[:20]),
        "until known": fmean(c.passed[: min(k, TAKES)].count(False) for c, k in both),
        "error 10": 100 * median(abs(c.errors[9] - off) for c in found),
        "error 20": 100 * median(abs(c.errors[19] - off) for c in found),
        "tempo": median(share for c in found for share in c.shares[30:]),
        "bias": 100 * off,
    }


def ends_row(players: int) -> dict[str, Any]:
    """The ceiling rule's own ends, `LONGEST` takes at most."""
    takes: list[int] = []
    errors, inside, successes, tired = [], [], [], 0
    for k in range(players):
        random = Random(f"ends {k}")
        player = learner(random)
        pacer = CeilingPacer(*drill_for(player, random), GATE)
        take, passed = 0, False
        while take < LONGEST and not (pacer.done or pacer.pace.reached):
            take += 1
            clean = player.play(pacer.pace.tempo_bpm, random)
            passed = GATE.passed(clean / player.notes)
            pacer.after_take(clean, player.notes)
        if not pacer.done:
            continue
        (low, high), ceiling = pacer.interval_bpm(0.9), player.ceiling_bpm()
        takes.append(take)
        errors.append(abs(math.log(pacer.estimate_bpm / ceiling)) <= WITHIN)
        inside.append(low <= ceiling <= high)
        successes.append(passed)
        tired += "rest" in pacer.done
    return {
        "ended by itself": len(takes) / players,
        "tired": tired / players,
        "takes": median(takes),
        "within 3 %": fmean(errors),
        "in the 90 % interval": fmean(inside),
        "ended on a success": fmean(successes),
    }


def shown(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, float) and abs(value) < 2:
        return f"{value:.2f}"
    return f">{TAKES}" if value > TAKES else f"{value:.3g}"


def show(rows: Iterable[dict[str, Any]]) -> None:
    for place, found in enumerate(rows):
        if not place:
            print("| " + " | ".join(found) + " |")
            print("|---" * len(found) + "|")
        print("| " + " | ".join(map(shown, found.values())) + " |", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="How soon each rule finds a player's ceiling.")
    parser.add_argument("--players", type=int, default=1000)
    parser.add_argument("--rules", nargs="+", choices=RULES, default=list(RULES))
    chosen = parser.parse_args()
    show(row(name, chosen.players) for name in chosen.rules)
    print()
    show([ends_row(chosen.players // 4)])


if __name__ == "__main__":
    main()
