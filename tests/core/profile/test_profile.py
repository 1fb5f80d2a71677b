"""Simulated players whose figures are known: the profile finds them, and knows how sure it is."""

from __future__ import annotations

import json
import math
from random import Random

import pytest

from coach.core.fingering.moves import FingerMove
from coach.core.profile.estimate import INTERVAL, Sums
from coach.core.profile.limits import PRIOR_HZ, TARGET, limit_estimate
from coach.core.profile.profile import profile_of
from coach.core.profile.tally import Tally
from coach.core.profile.weakest import move_words, weakest
from coach.core.timeline import Due
from tests.core.profile.making import DAY, Player, exercise_of, takes_of

MOVES = (FingerMove("1"), FingerMove("", "2"), FingerMove("2", "1"), FingerMove("1", "2"),
         FingerMove("2"), FingerMove("", "1"))  # fmt: skip


def test_without_takes_it_is_the_prior_and_says_so() -> None:
    profile = profile_of([], DAY)
    assert profile.moves == {}
    lag = profile.move(FingerMove("1", "3")).value
    assert (lag.value, lag.count, lag.measured) == (0, 0, 0)
    assert lag.low < -20 < 20 < lag.high
    for stroke, limit in profile.limits.items():
        assert limit.value == pytest.approx(PRIOR_HZ[stroke], rel=0.02)
        assert (limit.count, limit.measured) == (0, 0)
        assert limit.high / limit.low > 2
    assert profile.clean.value == 0.9
    assert weakest(profile, 5) == []


def test_lags_of_finger_moves_are_found_within_3_ms() -> None:
    rng = Random(11)
    lags = {move: rng.uniform(-5, 30) for move in MOVES}
    player = Player(lag_ms=lambda move: lags[move])
    profile = profile_of(takes_of(player, [exercise_of()] * 12, rng), DAY)
    assert set(profile.moves) == set(MOVES)
    for move, seen in profile.moves.items():
        assert seen.value.value == pytest.approx(lags[move], abs=3)


@pytest.mark.parametrize("takes", [2, 4, 8])
def test_intervals_of_lags_hold_the_truth_as_often_as_they_say(takes: int) -> None:
    rng, inside, asked = Random(takes), 0, 0
    for _ in range(150):
        lags = {move: rng.gauss(0, 15) for move in MOVES}
        player = Player(lag_ms=lags.__getitem__, lag_spread_ms=rng.uniform(6, 14))
        profile = profile_of(takes_of(player, [exercise_of(times=1)] * takes, rng), DAY)
        for move, seen in profile.moves.items():
            inside += seen.value.low <= lags[move] <= seen.value.high
            asked += 1
    assert abs(inside / asked - INTERVAL) < 0.04


def test_shares_of_syllables_lie_within_their_intervals() -> None:
    shares = {"ta": 0.95, "ka": 0.8}
    player = Player(clean=lambda due, rate_hz: shares[due.syllable or ""], back_db=-2.5)
    inside, rng, players = 0, Random(12), 60
    for _ in range(players):
        profile = profile_of(takes_of(player, [exercise_of()] * 8, rng), DAY)
        back, front = profile.syllables["back"].clean, profile.syllables["front"].clean
        inside += back.low <= 0.8 <= back.high
        inside += front.low <= 0.95 <= front.high
        assert profile.back_level_db.value == pytest.approx(-2.5, abs=0.6)
        assert profile.back_level_db.high < 0
    assert 0.8 <= inside / players / 2 <= 0.98
    assert profile.back_clean.value == pytest.approx(-0.15, abs=0.1)


DUE = Due(0, 65, 0, 1)


def falling(limit_hz: float, width_hz: float) -> Player:
    """Shares that fall along a normal curve over the rate, not the profile's own, and are `TARGET`
    at the limit."""
    # 0.9 of 0.99: a standard normal exceeds -1.335 with 0.909 (tables).
    middle_hz = limit_hz + 1.335 * width_hz

    def clean(due: Due, rate_hz: float) -> float:
        return 0.99 * 0.5 * math.erfc((rate_hz - middle_hz) / width_hz / math.sqrt(2))

    return Player(clean=clean)


@pytest.mark.parametrize(
    ("stroke", "limit_hz", "width_hz"),
    [("single", 6.6, 0.8), ("double", 10.4, 1.2), ("triple", 9.1, 0.7), ("slurred", 12.3, 1.5)],
)
def test_limits_are_found_within_3_percent(stroke: str, limit_hz: float, width_hz: float) -> None:
    rng = Random(13)
    # From well under the limit to a little over it, as ceilings are looked for.
    shares = [0.6 + 0.06 * k for k in range(10)] * 8
    exercises = [exercise_of(limit_hz * s * 15, stroke=stroke, times=4) for s in shares]
    player = falling(limit_hz, width_hz)
    assert player.clean(DUE, limit_hz) == pytest.approx(TARGET, abs=0.001)
    limit = profile_of(takes_of(player, exercises, rng), DAY).limits[stroke]
    assert limit.value == pytest.approx(limit_hz, rel=0.03)
    assert limit.low < limit_hz < limit.high
    assert limit.measured > 0.9


def test_intervals_of_limits_hold_the_truth_as_often_as_they_say() -> None:
    rng, inside, players = Random(19), 0, 60
    for _ in range(players):
        limit_hz = rng.uniform(5.5, 12.5)
        player = falling(limit_hz, limit_hz * rng.uniform(0.05, 0.14))
        rates = [limit_hz * (0.6 + 0.06 * k) for k in range(10)]
        clean = [sum(rng.random() < player.clean(DUE, r) for _ in range(96)) for r in rates]
        bins = [Sums(96, good, 96, 96 * r) for good, r in zip(clean, rates, strict=True)]
        found = limit_estimate("double", bins)
        inside += found.low <= limit_hz <= found.high
    # The curve of these players is not the profile's; the interval allows for that.
    assert inside / players >= 0.86


def test_clean_takes_far_under_the_limit_only_say_that_it_is_higher() -> None:
    profile = profile_of(takes_of(Player(), [exercise_of(150)] * 30, Random(14)), DAY)
    prior = profile_of([], DAY).limits["double"]
    limit = profile.limits["double"]
    assert limit.low > 9.9
    assert limit.high >= prior.high


def moved(day: int, lag_ms: float, count: int = 40) -> Tally:
    squares = count * (lag_ms**2 + 36)
    return Tally("move", "1>3", day, count, count, count, count * lag_ms, squares)


def test_old_days_fade() -> None:
    move = FingerMove("1", "3")
    old = [moved(DAY - 120, 30), moved(DAY, 10)]
    assert profile_of(old, DAY).move(move).value.value == pytest.approx(11.2, abs=0.7)
    assert profile_of(old, DAY, 1e6).move(move).value.value == pytest.approx(20, abs=0.7)
    widths = [
        seen.high - seen.low
        for today in (DAY, DAY + 30, DAY + 300)
        for seen in [profile_of([moved(DAY, 10)], today).move(move).value]
    ]
    assert widths == sorted(widths)
    half = profile_of([moved(DAY, 10)], DAY + 30).move(move).value
    assert half.count == pytest.approx(20)


def test_a_half_life_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="half-life"):
        profile_of([], DAY, 0)


def test_offset_and_evenness_are_means_over_takes() -> None:
    player = Player(offset_ms=-22, jitter_ms=6)
    profile = profile_of(takes_of(player, [exercise_of()] * 20, Random(15)), DAY)
    assert profile.offset_ms.value == pytest.approx(-22, abs=2)
    # Intervals of 156 ms between attacks that spread by 6 ms each: 6 * sqrt(2) / 156.
    assert profile.evenness_cv.value == pytest.approx(0.054, abs=0.01)
    assert profile.offset_ms.low < -22 < profile.offset_ms.high


def test_the_weakest_come_first_in_words() -> None:
    slow = FingerMove("2", "1")
    player = Player(lag_ms=lambda move: 24.0 if move == slow else 0.0)
    profile = profile_of(takes_of(player, [exercise_of()] * 10, Random(16)), DAY)
    first = weakest(profile, 3)[0]
    lag = profile.move(slow).value
    words = f"2 up and 1 down: late by {lag.value:.0f} ms ({lag.low:.0f} to {lag.high:.0f}), clean"
    assert first.words.startswith(words)
    assert (first.kind, first.name) == ("move", "2>1")


def test_a_weak_back_syllable_is_told() -> None:
    player = Player(clean=lambda due, rate_hz: 0.7 if due.syllable == "ka" else 0.97, back_db=-4.0)
    profile = profile_of(takes_of(player, [exercise_of()] * 20, Random(17)), DAY)
    (told,) = [weak.words for weak in weakest(profile, 9) if weak.kind == "syllable"]
    assert told.startswith("back syllable: ")
    assert "dB softer than the front one" in told
    assert told.endswith(f"the front one {100 * profile.syllables['front'].clean.value:.0f} %")


def test_registers_and_articulations_in_words() -> None:
    notes = [
        Tally("register", "high", DAY, 200, 150, 200, -200 * 12.0, 200 * (144.0 + 64)),
        Tally("articulation", "slurred", DAY, 200, 140),
        Tally("articulation", "tongued", DAY, 800, 780),
    ]
    told = [weak.words for weak in weakest(profile_of(notes, DAY), 5)]
    assert told == [
        "high register: early by 12 ms (11 to 13), clean 75 %",
        "slurred notes: clean 70 %, all notes 92 %",
    ]


def test_a_move_never_played_goes_as_the_notes_in_all() -> None:
    profile = profile_of([Tally("articulation", "tongued", DAY, 1000, 600)], DAY)
    assert profile.move(FingerMove("1", "3")).clean.value == profile.clean.value
    assert profile.clean.value == pytest.approx(0.6, abs=0.01)


def test_a_lag_that_nobody_hears_is_no_weakness() -> None:
    profile = profile_of([moved(DAY, 6.0, 4000)], DAY)
    assert profile.move(FingerMove("1", "3")).value.low > 5
    assert weakest(profile, 5) == []


def test_few_notes_tell_of_no_weakness() -> None:
    assert weakest(profile_of([Tally("move", "1>3", DAY, 2, 1)], DAY), 5) == []


def test_thumbs_in_words() -> None:
    assert move_words(FingerMove("", "", "T down")) == "thumb down"
    assert move_words(FingerMove("12", "", "H up")) == "1+2 up and lever H up"


def test_it_is_plain_data() -> None:
    profile = profile_of(takes_of(Player(), [exercise_of()] * 2, Random(18)), DAY)
    plain = json.loads(json.dumps(profile.to_dict()))
    assert plain["moves"]["2>1"]["lag_ms"]["count"] == profile.moves[MOVES[2]].value.count
    assert set(plain["limits_hz"]) == set(PRIOR_HZ)
