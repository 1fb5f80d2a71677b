"""Which test settles a trial of two ways: `python -m tests.benchmarks.trial [TRIALS [PLAYER]]`.

Simulated players (tests/core/trial/player.py) play two ways in takes of 16 notes.  Printed for each
candidate and each pair of clean shares: how often way a or b is called cleaner, how often both are
called even, how often it stays open, the mean number of takes, and how many takes a paired t-test
of one fixed length needs for the same power (its standardised difference measured on the same
players, its length by the noncentral t).  "trial" is the coach's own, with its stop for tiredness;
the other sign-flip rows are its test alone.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from coach.core.trial.sequential import Difference, Sequential, Spending
from coach.core.trial.settings import TrialSettings
from tests.core.trial.peers import RatioT, Shaped, fixed_pairs
from tests.core.trial.player import (
    PLAIN,
    RAGGED,
    Habits,
    levels_for,
    played,
    verdict,
)

NOTES = 16
SHARES = ((0.85, 0.85), (0.95, 0.95), (0.875, 0.825), (0.9, 0.8), (0.9, 0.75), (0.95, 0.7))
PLAYERS = {"usual": Habits(), "plain": PLAIN, "ragged": RAGGED}
Answer = Callable[[np.ndarray, np.ndarray], tuple[str, int]]


def streams(
    shares: tuple[float, float], habits: Habits, trials: int, pairs: int
) -> tuple[np.ndarray, np.ndarray]:
    """Differences and what matters, (trials, pairs) each, of players whom no test stops."""
    endless = replace(
        TrialSettings(), false_share=0.0, hidden_share=0.0, pairs_at_16=pairs, tired_drop=1.1
    )
    levels = levels_for(shares, habits)
    seen = [played(levels, seed, habits, NOTES, endless).test.seen for seed in range(trials)]
    rad = np.array([[d.rad for d in row] for row in seen])
    return rad, np.array([[d.matters_rad for d in row] for row in seen])


def flips(pairs: int, power: float, settings: TrialSettings) -> Answer:
    """Our test alone."""

    def answer(rad: np.ndarray, matters: np.ndarray) -> tuple[str, int]:
        test = Sequential(
            Spending(settings.false_share, power, pairs),
            Spending(settings.hidden_share, settings.hidden_power, pairs),
        )
        for k in range(pairs):
            test = test.after(Difference(float(rad[k]), float(matters[k])))
            if test.cleaner or test.even:
                return test.cleaner or "even", k + 1
        return "open", pairs

    return answer


def candidates(pairs: int, settings: TrialSettings) -> dict[str, Answer]:
    made: dict[str, Answer] = {
        "t, Pocock": Shaped(pairs, 0.5, settings.false_share, settings.hidden_share).answer,
        "t, Wang-Tsiatis 1/4": Shaped(
            pairs, 0.25, settings.false_share, settings.hidden_share
        ).answer,
        "t, O'Brien-Fleming": Shaped(
            pairs, 0.0, settings.false_share, settings.hidden_share
        ).answer,
        "ratio t, effect 0.6": RatioT(pairs, 0.6).answer,
    }
    for power in (1.0, 2.0, 3.0):
        made[f"sign-flip, power {power:g}"] = flips(pairs, power, settings)
    return made


def line(name: str, answers: list[tuple[str, int]], effect: float) -> None:
    shares = Counter(found for found, _ in answers)
    a, b, even, left = (shares[key] / len(answers) for key in ("a", "b", "even", "open"))
    takes = 2 * float(np.mean([pairs for _, pairs in answers]))
    beside = f"{2 * fixed_pairs(effect, a):10.1f}" if effect > 0.1 and 0.1 < a < 0.999 else ""
    print(f"  {name:22s} {a:6.3f} {b:6.3f} {even:6.3f} {left:6.3f} {takes:7.1f} {beside}")


def table(who: str, shares: tuple[float, float], trials: int) -> None:
    settings = TrialSettings()
    habits, most = PLAYERS[who], settings.most_pairs(NOTES)
    rad, matters = streams(shares, habits, trials, most)
    effect = float(rad.mean() / rad.std()) if shares[0] > shares[1] else 0.0
    print(f"\n{who} player, {shares[0]:g} against {shares[1]:g}, difference {effect:.2f} SD")
    print("  test                        a      b   even   open   takes   fixed t")
    levels = levels_for(shares, habits)
    trial = [played(levels, seed, habits, NOTES) for seed in range(trials)]
    line("trial", [(verdict(t), len(t.pairs)) for t in trial], effect)
    for name, answer in candidates(most, settings).items():
        line(name, [answer(*pair) for pair in zip(rad, matters, strict=True)], effect)


def main() -> None:
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for who in sys.argv[2:] or PLAYERS:
        for shares in SHARES if who == "usual" else SHARES[:1] + SHARES[3:4]:
            table(who, shares, trials)


if __name__ == "__main__":
    main()
