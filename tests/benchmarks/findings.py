"""How often findings are wrong, and how soon they are found: `python -m tests.benchmarks.findings`.

A simulated player plays sixteen sixteenths, over and over; the takes are really judged.  Printed:

- of pattern-free sessions (4 to 20 takes) the share with any finding, by the kind of player, beside
  the 5 % that are allowed and the 95 % interval (Clopper and Pearson);
- of sessions in which every note has a difficulty of its own (a beta distribution), with no group
  behind it, the share that blames a group;
- for patterns of a given size the share of sessions in which the strongest finding names it, by the
  number of takes, and the takes that give four in five.

Peers on the same pattern-free sessions: each question by its plain chance at 5 %, not corrected;
and all notes of all takes in one table (Fisher's test from scipy), corrected by Holm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

from scipy import stats as reference

from coach.core.findings import Judged, find
from coach.core.findings.facts import facts_of
from coach.core.findings.questions import NOTE, questions
from coach.core.findings.stats import holm
from coach.core.findings.weigh import chance_of_faults, counted, split
from tests.core.findings_making import Player, judged_takes

SESSIONS, POWER_SESSIONS = 600, 100
TAKES = (4, 6, 8, 12, 20, 30)
PLAYERS = {
    "6 % faults": Player(),
    "20 % faults": Player(share=0.2),
    "good and bad takes": Player(share=0.1, moods=0.8),
    "stumbles in rows": Player(stumbles=0.5),
    "wandering tempo": Player(jitter_ms=8, wander_ms=4),
    "all of that": Player(jitter_ms=14, wander_ms=6, share=0.05, stumbles=0.4, moods=0.6),
    "lags heard": Player(lag_ms=lambda k: 5.0),
}
EXCHANGES, ONE_EXCHANGE = (3, 6, 11, 14), (3, 11)


def among(places: Sequence[int], chance: float) -> Callable[[int], float]:
    return lambda k: chance if k in places else 0.0


def late_valves(ms: float) -> Callable[[int], float]:
    return lambda k: ms if k in ONE_EXCHANGE else 3.0


BACKS, HALF, ALL = tuple(range(1, 16, 2)), tuple(range(8, 16)), tuple(range(16))
PATTERNS = [
    ("one note", f"{chance:.0%}", (5,), Player(planted=among((5,), chance)))
    for chance in (0.4, 0.6, 0.8)
]
PATTERNS += [
    (
        "exchange of fingers",
        f"{chance:.0%} of 4 notes",
        EXCHANGES,
        Player(planted=among(EXCHANGES, chance), planted_fault="late"),
    )
    for chance in (0.2, 0.35, 0.5)
]
PATTERNS += [
    (
        "exchange of fingers",
        f"valves {ms:.0f} ms late",
        ONE_EXCHANGE,
        Player(share=0.02, lag_ms=late_valves(ms)),
    )
    for ms in (14.0, 24.0)
]
PATTERNS += [
    (
        "back syllable",
        f"{chance:.0%} of 8 notes",
        BACKS,
        Player(planted=among(BACKS, chance), planted_fault="muffled"),
    )
    for chance in (0.2, 0.35)
]
PATTERNS += [
    ("second half", f"{chance:.0%} of 8 notes", HALF, Player(planted=among(HALF, chance)))
    for chance in (0.2, 0.35)
]
PATTERNS += [
    ("rushing", f"{drift:.0f} ms, wander 2 ms a note", ALL, Player(drift_ms=-drift, wander_ms=2))
    for drift in (15.0, 30.0, 50.0)
]


def sessions(player: Player, count: int = SESSIONS) -> list[list[Judged]]:
    made = []
    for seed in range(count):
        rng = Random(seed)
        made.append(judged_takes(player, rng.choice((4, 8, 12, 20)), rng))
    return made


def uncorrected(takes: Sequence[Judged]) -> bool:
    material = facts_of(takes)
    facts = counted(material)
    return any(chance_of_faults(split(facts, q.spots)) <= 0.05 for q in questions(material))


def one_table(takes: Sequence[Judged]) -> bool:
    """All takes in one table, stumbles and all; corrected."""
    material = facts_of(takes)
    facts = [fact for fact in material.facts if fact.kind != "unsure"]
    chances = []
    for question in questions(material):
        inside, outside = split(facts, question.spots)
        table = [[sum(f.fault for f in p), sum(not f.fault for f in p)] for p in (inside, outside)]
        chances.append(float(reference.fisher_exact(table, alternative="greater").pvalue))
    return min(holm(chances)) <= 0.05


def print_false_findings() -> None:
    print(f"Pattern-free sessions with a finding, of {SESSIONS} each (5 % allowed)")
    print(f"{'player':22}{'found':>8}{'95 % interval':>18}{'uncorrected':>13}{'one table':>11}")
    total = 0
    for name, player in PLAYERS.items():
        made = sessions(player)
        wrong = sum(bool(find(takes)) for takes in made)
        total += wrong
        peers = (sum(map(peer, made)) / SESSIONS for peer in (uncorrected, one_table))
        print(_false_line(name, wrong, SESSIONS) + "{:>13.1%}{:>11.1%}".format(*peers), flush=True)
    print(_false_line("all", total, SESSIONS * len(PLAYERS)))


def _false_line(name: str, wrong: int, count: int) -> str:
    low, high = reference.binomtest(wrong, count).proportion_ci(method="exact")
    return f"{name:22}{wrong / count:>8.1%}{f'{low:.1%} to {high:.1%}':>18}"


def print_hard_notes() -> None:
    """Every note its own difficulty: the hard ones may be named, a group may not."""
    blamed = named = 0
    for seed in range(SESSIONS):
        rng = Random(seed)
        hard = [rng.betavariate(0.5, 4.5) for _ in range(16)]
        player = Player(share=0.02, planted=hard.__getitem__)
        found = find(judged_takes(player, rng.choice((4, 8, 12, 20)), rng))
        named += any(finding.kind == NOTE for finding in found)
        blamed += any(finding.kind != NOTE for finding in found)
    print(
        f"\nNotes of their own difficulty (10 % in the mean): a note named in "
        f"{named / SESSIONS:.1%} of sessions, a group blamed in {blamed / SESSIONS:.1%}"
    )


def power(kind: str, notes: Sequence[int], player: Player, takes: int) -> float:
    """The share of sessions in which the strongest finding is of this kind and these notes."""
    right = 0
    for seed in range(POWER_SESSIONS):
        found = find(judged_takes(player, takes, Random(1000 + seed)))
        right += bool(found) and (found[0].kind, found[0].notes) == (kind, tuple(notes))
    return right / POWER_SESSIONS


def print_power() -> None:
    heads = "".join(f"{takes:>6}" for takes in TAKES)
    print(
        f"\nPatterns named first, of {POWER_SESSIONS} sessions, by takes\n{'':48}{heads}   80 % at"
    )
    for kind, size, notes, player in PATTERNS:
        shares = [power(kind, notes, player, takes) for takes in TAKES]
        enough = next((t for t, s in zip(TAKES, shares, strict=True) if s >= 0.8), None)
        row = "".join(f"{share:>6.0%}" for share in shares)
        print(f"{kind + ', ' + size:48}{row}   {enough or '> 30'}", flush=True)


if __name__ == "__main__":
    print_false_findings()
    print_hard_notes()
    print_power()
