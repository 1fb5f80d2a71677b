"""A simulated player whose lags, shares and limits are known; its takes are really judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from random import Random

from coach.core.exercise import Exercise
from coach.core.fingering.moves import FingerMove, move_between
from coach.core.judge import judge_take
from coach.core.passage import Passage, in_a_row
from coach.core.profile.tallies import tallies_of
from coach.core.profile.tally import Tally
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Attack, Take
from coach.core.timeline import Due, plan_take

RATE = 48_000
DAY = 738_000
PITCHES = (65, 67, 69, 70, 72, 70, 69, 67)
FINGERS = ("T1", "T0", "T2", "T1", "T0", "T1", "T2", "T0")
STARTS = {"double": "tk", "triple": "ttk", "single": "t"}
SAID = {"t": "ta", "k": "ka"}


@dataclass(frozen=True, slots=True)
class Player:
    """`lag_ms` by finger move, spread by `lag_spread_ms` from note to note; `clean(due, rate_hz)`
    the chance that a note is clean (else it cracks); back syllables `back_db` louder; `offset_ms`
    behind, spread by `jitter_ms`."""

    lag_ms: Callable[[FingerMove], float] = lambda move: 0.0
    clean: Callable[[Due, float], float] = lambda due, rate_hz: 1.0
    back_db: float = 0.0
    offset_ms: float = 0.0
    jitter_ms: float = 3.0
    lag_spread_ms: float = 6.0


def exercise_of(
    bpm: float = 96.0,
    *,
    stroke: str = "double",
    times: int = 2,
    fingers: Sequence[str | None] = FINGERS,
    pitches: Sequence[int] = PITCHES,
) -> Exercise:
    """Even sixteenths; slurred for the stroke "slurred"."""
    row = in_a_row(list(pitches) * times, Fraction(1, 4), slurred=stroke == "slurred")
    said = STARTS.get(stroke, "")
    notes = tuple(
        replace(
            note,
            syllable=SAID[said[k % len(said)]] if said else None,
            fingering=fingers[k % len(fingers)],
        )
        for k, note in enumerate(row)
    )
    return Exercise(Passage(notes), bpm, transposition=-7)


def report_of(player: Player, exercise: Exercise, rng: Random) -> Report:
    """One take, as an ear that follows the score would hear it, judged."""
    plan = plan_take(exercise, RATE, 2 * RATE)
    rate_hz = exercise.tempo_bpm * 4 / 60
    names = [None, *[due.fingering for due in plan.dues]]
    moves = [move_between(*pair) for pair in pairwise(names)]
    attacks = tuple(
        _attack(player, due, move, rate_hz, rng) for due, move in zip(plan.dues, moves, strict=True)
    )
    return judge_take(Take(1, plan, attacks, (), True), Rules())


def _attack(
    player: Player, due: Due, move: FingerMove | None, rate_hz: float, rng: Random
) -> Attack:
    late_ms = player.offset_ms + rng.gauss(0, player.jitter_ms)
    lag_ms = None if move is None else player.lag_ms(move) + rng.gauss(0, player.lag_spread_ms)
    back = player.back_db if due.syllable == "ka" else 0.0
    return Attack(
        due.frame + round(late_ms * RATE / 1000),
        float(due.pitch),
        -20.0 + back + rng.gauss(0, 1),
        rise_frames=480,
        settle_frames=0 if rng.random() < player.clean(due, rate_hz) else 1500,
        lag_frames=None if lag_ms is None else round(lag_ms * RATE / 1000),
        fine=True,
        due=due.index,
    )


def takes_of(
    player: Player, exercises: Sequence[Exercise], rng: Random, day: int = DAY
) -> list[Tally]:
    """The tallies of one take of each."""
    return [
        tally
        for exercise in exercises
        for tally in tallies_of(
            report_of(player, exercise, rng), exercise, ["0"] * len(exercise.passage.notes), day
        )
    ]
