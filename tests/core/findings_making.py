"""Takes of a simulated player for the findings: attacks with planted mistakes, really judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from coach.core.exercise import Exercise
from coach.core.findings import Judged
from coach.core.judge import judge_take
from coach.core.passage import Passage, in_a_row
from coach.core.rules import Rules
from coach.core.take import Attack, Take
from coach.core.timeline import Due, Plan, plan_take

RATE = 48_000
FAULTS = ("late", "early", "split", "muffled", "missed", "wrong")
# Sounding pitches of a double horn's middle register, with written fingerings that exchange 1 and 2
# twice a bar.
LINE = (65, 67, 69, 70, 72, 70, 69, 67) * 2
LINE_FINGERS = ("T1", "T0", "T2", "T1", "T0", "T1", "T2", "T0") * 2


@dataclass(frozen=True, slots=True)
class Player:
    """How a simulated player errs: a share of notes (spread from take to take by `moods`), each
    followed by another with the chance `stumbles`; attacks spread by `jitter_ms` around a wander of
    `wander_ms` a note; `drift_ms` from first note to last.  `planted(k)` is the chance of a fault
    on note k of its own, `planted_fault` its kind; `lag_ms(k)` the valves behind the tongue."""

    share: float = 0.06
    moods: float = 0.0
    stumbles: float = 0.0
    jitter_ms: float = 5.0
    wander_ms: float = 0.0
    drift_ms: float = 0.0
    planted: Callable[[int], float] = lambda k: 0.0
    planted_fault: str = "split"
    lag_ms: Callable[[int], float] | None = None


def line(fingered: bool = True) -> Passage:
    """Sixteen sixteenths, fingered, the syllables by turns."""
    notes = in_a_row(LINE, Fraction(1, 4))
    return Passage(
        tuple(
            replace(
                note,
                syllable="ka" if k % 2 else "ta",
                fingering=LINE_FINGERS[k] if fingered else None,
            )
            for k, note in enumerate(notes)
        )
    )


def judged_takes(
    player: Player, count: int, rng: Random, passage: Passage | None = None, bpm: float = 96.0
) -> list[Judged]:
    """`count` takes of one passage."""
    exercise = Exercise(passage or line(), bpm, transposition=-7)
    plan = plan_take(exercise, RATE, 2 * RATE)
    return [judged(plan, played(player, plan, rng)) for _ in range(count)]


def judged(plan: Plan, attacks: Sequence[Attack]) -> Judged:
    take = Take(1, plan, tuple(attacks), (), True)
    return Judged(plan.exercise, judge_take(take, Rules()), plan.rate)


def played(player: Player, plan: Plan, rng: Random) -> list[Attack]:
    """One take, as an ear that follows the score would hear it."""
    share = min(0.6, player.share * rng.lognormvariate(0, player.moods))
    wander, stumbled, attacks = 0.0, False, []
    last = len(plan.dues) - 1
    for due in plan.dues:
        k = due.index
        wander += rng.gauss(0, player.wander_ms)
        fault = ""
        if rng.random() < player.planted(k):
            fault = player.planted_fault
        elif rng.random() < (player.stumbles if stumbled else share):
            fault = rng.choice(FAULTS)
        stumbled = bool(fault)
        shift_ms = wander + rng.gauss(0, player.jitter_ms) + player.drift_ms * (k / last - 0.5)
        if fault != "missed":
            attacks.append(_attack(due, fault, shift_ms, player, rng))
    return attacks


def _attack(due: Due, fault: str, shift_ms: float, player: Player, rng: Random) -> Attack:
    shift_ms += {"late": 1, "early": -1}.get(fault, 0) * rng.uniform(34, 45)
    lag_ms = player.lag_ms(due.index) + rng.gauss(0, 6) if player.lag_ms else None
    return Attack(
        due.frame + round(shift_ms * RATE / 1000),
        float(due.pitch) + (2.0 if fault == "wrong" else 0.0),
        -34.0 if fault == "muffled" else -20.0 + rng.gauss(0, 1),
        rise_frames=480,
        settle_frames=1500 if fault == "split" else 0,
        lag_frames=None if lag_ms is None else round(lag_ms * RATE / 1000),
        fine=True,
        due=due.index,
    )
