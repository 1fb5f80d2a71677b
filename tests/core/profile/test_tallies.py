"""What is counted of a take."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.fingering.moves import FingerMove
from coach.core.profile.profile import profile_of
from coach.core.profile.speeds import speeds_of
from coach.core.profile.tallies import (
    added,
    move_name,
    move_named,
    register_of,
    tallies_of,
)
from coach.core.profile.tally import Tally
from tests.core.profile.making import DAY, PITCHES, Player, exercise_of, report_of, takes_of


def by_name(tallies: list[Tally] | tuple[Tally, ...]) -> dict[tuple[str, str], Tally]:
    return {(t.kind, t.name): t for t in added(tallies)}


def test_the_same_fingers_count_together_whatever_the_thumb_holds() -> None:
    rng = Random(1)
    both = [
        *takes_of(Player(), [exercise_of(fingers=("T1", "T3"), times=1)], rng),
        *takes_of(Player(), [exercise_of(fingers=("1", "3"), times=1)], rng),
        *takes_of(Player(), [exercise_of(fingers=("12", "23"), times=1)], rng),
    ]
    found = by_name(both)
    assert found["move", "1>3"].count == 12
    assert found["move", "3>1"].count == 9


def test_moves_keep_their_names() -> None:
    for move in (FingerMove("1", "3"), FingerMove("12", "", "T down"), FingerMove("", "", "H up")):
        assert move_named(move_name(move)) == move
    assert move_name(FingerMove("1", "3")) == "1>3"


def test_a_move_with_half_a_second_is_none_and_fingers_that_stay_neither() -> None:
    rng = Random(2)
    slow = by_name(takes_of(Player(), [exercise_of(30.0)], rng))
    still = by_name(takes_of(Player(), [exercise_of(fingers=("T1",))], rng))
    assert not [name for kind, name in (*slow, *still) if kind == "move"]
    assert slow["articulation", "tongued"].count == 16


def test_fingerings_that_nobody_wrote_are_the_usual_ones() -> None:
    exercise = exercise_of(fingers=(None,), times=1)
    report = report_of(Player(), exercise, Random(3))
    usual = by_name(tallies_of(report, exercise, ["1", "3"] * 4, DAY))
    assert usual["move", "1>3"].count == 4
    written = exercise_of(fingers=("2", "1"), times=1)
    assert ("move", "1>3") not in by_name(tallies_of(report, written, ["1", "3"] * 4, DAY))


def test_positions_of_a_slide_are_no_valves() -> None:
    exercise = exercise_of(fingers=("1", "3"), times=1)
    report = report_of(Player(), exercise, Random(4))
    found = by_name(tallies_of(report, exercise, [None] * 8, DAY))
    assert not [name for kind, name in found if kind == "move"]


def test_unsure_notes_count_nowhere() -> None:
    exercise = exercise_of(times=1)
    report = report_of(Player(), exercise, Random(5))
    doubtful = tuple(replace(v, kind="unsure") if v.index in (1, 2) else v for v in report.verdicts)
    found = by_name(tallies_of(replace(report, verdicts=doubtful), exercise, ["0"] * 8, DAY))
    assert found["articulation", "tongued"].count == 6
    assert found["move", "1>"].count == 0 + 2 - 1


def test_a_lag_that_no_valve_has_is_no_lag() -> None:
    found = by_name(takes_of(Player(lag_ms=lambda move: 120.0), [exercise_of()], Random(6)))
    assert found["move", "1>"].count > 0
    assert found["move", "1>"].values == 0


def test_syllables_are_front_and_back_or_single() -> None:
    rng = Random(7)
    double = by_name(takes_of(Player(), [exercise_of()], rng))
    single = by_name(takes_of(Player(), [exercise_of(stroke="single")], rng))
    none = by_name(takes_of(Player(), [exercise_of(stroke="")], rng))
    assert {name for kind, name in double if kind == "syllable"} == {"front", "back"}
    assert {name for kind, name in single if kind == "syllable"} == {"single"}
    assert not {name for kind, name in none if kind == "syllable"}


@pytest.mark.parametrize("stroke", ["single", "double", "triple", "slurred"])
def test_rates_are_told_by_stroke(stroke: str) -> None:
    found = by_name(takes_of(Player(), [exercise_of(138.0, stroke=stroke)], Random(8)))
    rates = {name: tally for (kind, name), tally in found.items() if kind == "rate"}
    assert list(rates) == [f"{stroke} 9-9.5"]
    (tally,) = rates.values()
    assert tally.total / tally.values == pytest.approx(9.2)


def test_uneven_rows_and_short_ones_tell_of_no_limit() -> None:
    assert speeds_of(exercise_of(times=1, pitches=PITCHES[:3])) == [None] * 3
    assert speeds_of(exercise_of(stroke="")) == [None] * 16


def test_registers() -> None:
    assert [register_of(p) for p in (40, 52, 53, 64, 65, 80)] == [
        "low", "low", "middle", "middle", "high", "high",
    ]  # fmt: skip


def test_the_take_itself() -> None:
    found = by_name(takes_of(Player(offset_ms=12, jitter_ms=2), [exercise_of()] * 5, Random(9)))
    offset = found["take", "offset"]
    assert (offset.count, offset.clean) == (5, 5)
    assert offset.total / offset.values == pytest.approx(12, abs=2)
    assert found["take", "evenness"].values == 5


@settings(max_examples=25)
@given(
    seed=st.integers(0, 10_000), days=st.lists(st.integers(DAY - 90, DAY), min_size=2, max_size=4)
)
def test_added_tallies_say_what_the_takes_say(seed: int, days: list[int]) -> None:
    rng = Random(seed)
    player = Player(clean=lambda due, rate_hz: 0.8)
    takes = [takes_of(player, [exercise_of(rng.uniform(80, 150))], rng, day) for day in days]
    together = added(tally for take in takes for tally in take)
    assert sum(t.count for t in together) == sum(t.count for take in takes for t in take)
    apart = profile_of([t for take in reversed(takes) for t in take], DAY).to_dict()
    assert profile_of(together, DAY).to_dict() == near(apart)


def near(value: object) -> object:
    """The same plain data, figures within rounding."""
    if isinstance(value, dict):
        return {key: near(each) for key, each in value.items()}
    return pytest.approx(value, abs=1e-3)
