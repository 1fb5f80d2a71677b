"""Turns: each way once a pair, by a fair coin, at one tempo that moves for both alike."""

from __future__ import annotations

from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.trial import Trial, TrialSettings, TrialTurn, begin
from coach.core.trial.order import first_way, next_tempo_bpm
from coach.core.trial.trial import TrialTake

ENDLESS = TrialSettings(false_share=0.0, hidden_share=0.0, tired_drop=1.1)
counts = st.lists(st.integers(0, 16), min_size=2, max_size=56)


def turns_of(trial: Trial, clean: list[int]) -> tuple[list[TrialTurn], Trial]:
    turns = []
    for count in clean:
        turn = trial.next()
        if turn is None:
            break
        turns.append(turn)
        trial = trial.after(turn, count, 16)
    return turns, trial


@given(counts, st.integers(0, 2**32))
def test_pairs_are_whole_matched_and_never_three_running(clean, seed):
    turns, trial = turns_of(begin(ENDLESS, 16, 112, seed), clean)
    assert len(turns) == len(clean)
    for first, second in zip(turns[::2], turns[1::2], strict=False):
        assert {first.way, second.way} == {"a", "b"}
        assert (first.tempo_bpm, first.pair) == (second.tempo_bpm, second.pair)
    assert max(len(list(run)) for _, run in groupby(turn.way for turn in turns)) <= 2
    assert [pair.a.turn.pair for pair in trial.pairs] == list(range(len(turns) // 2))


@given(counts, st.integers(0, 2**32))
def test_neither_order_nor_tempo_hang_on_which_way_was_better(clean, seed):
    """With the ways of each pair exchanged, the same turns come: what the test rests on."""
    exchanged = [clean[k ^ 1] if k ^ 1 < len(clean) else count for k, count in enumerate(clean)]
    whole = len(clean) // 2 * 2
    turns, one = turns_of(begin(ENDLESS, 16, 112, seed), clean[:whole])
    others, two = turns_of(begin(ENDLESS, 16, 112, seed), exchanged[:whole])
    assert turns == others
    assert one.tempo_bpm == two.tempo_bpm


@given(st.integers(0, 2**32))
def test_the_coin_is_fair(seed):
    """Of 400 tosses 200 +- 5 standard deviations (10 each) are a."""
    assert 150 <= sum(first_way(seed, pair) == "a" for pair in range(400)) <= 250


@pytest.mark.parametrize(
    ("shares", "tempo_bpm"),
    [((0.95, 0.9), 104.0), ((0.95, 0.85), 100.0), ((0.7, 0.74), 96.2), ((0.7, 0.8), 100.0)],
)
def test_the_tempo_moves_when_both_ask_for_it(shares, tempo_bpm):
    assert next_tempo_bpm(100, 100, shares, TrialSettings()) == tempo_bpm


@given(st.lists(st.sampled_from([0, 16]), min_size=56, max_size=56))
def test_the_tempo_stays_within_its_limits(clean):
    turns, _ = turns_of(begin(ENDLESS, 16, 100, 1), clean)
    assert all(50 <= turn.tempo_bpm <= 150 for turn in turns)


def test_a_take_hardly_heard_comes_again_and_then_ends_the_trial():
    trial = begin(TrialSettings(), 16, 112, 3)
    turn = trial.next()
    for _ in range(TrialSettings().repeats):
        trial = trial.after(turn, 7, 7)
        assert trial.next() == turn
    heard = trial.after(turn, 8, 8)
    assert heard.open_take == TrialTake(turn, 8, 8)
    assert heard.next().way != turn.way
    trial = trial.after(turn, 7, 7)
    assert (trial.next(), trial.ended) == (None, "unheard")
    assert "could not hear" in trial.stopped


def test_only_the_turn_given_and_counts_that_can_be():
    trial = begin(TrialSettings(), 16, 112, 3)
    turn = trial.next()
    with pytest.raises(ValueError, match="not the next turn"):
        trial.after(TrialTurn(turn.way, 90, 0), 16, 16)
    for clean, counted in ((17, 16), (-1, 16), (17, 17)):
        with pytest.raises(ValueError, match="among"):
            trial.after(turn, clean, counted)
    with pytest.raises(ValueError, match="needs notes"):
        begin(TrialSettings(), 0, 112, 1)


def test_tired_when_both_fall():
    trial = begin(ENDLESS, 16, 112, 1)
    trial = Trial(TrialSettings(), 1, 16, 112, 112, trial.test)
    turns, after = turns_of(trial, [14] * 8 + [11] * 8)
    assert (after.ended, len(turns)) == ("tired", 16)
    one_way = begin(TrialSettings(), 16, 112, 1)
    while (turn := one_way.next()) is not None and turn.pair < 8:
        falls = turn.way == "a" and turn.pair >= 4
        one_way = one_way.after(turn, 11 if falls else 14, 16)
    assert one_way.ended != "tired"
