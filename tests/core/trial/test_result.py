"""What is said for every outcome, and the figures behind it."""

from __future__ import annotations

import json

import pytest

from coach.core.trial import Outcome, Trial, TrialSettings, begin, outcome_of, words
from coach.core.trial.result import WayHeard
from coach.core.trial.trial import STOPPED

SCOLDING = ("fail", "bad", "poor", "wrong", "mistake", "must", "error")


def made(cleaner: str, **changes) -> Outcome:
    figures = {
        "ended": "clear",
        "pairs": 9,
        "notes": 16,
        "difference": 0.07,
        "low": 0.01,
        "high": 0.13,
        "slowest_bpm": 112.0,
        "fastest_bpm": 112.0,
        "a": WayHeard(0.9, 8.0, 5.0),
        "b": WayHeard(0.83, 9.0, 6.0),
        "relearned": 5,
        "worthwhile_share": 0.1,
        "hidden_share": 0.15,
    }
    return Outcome(cleaner, **(figures | changes))


def run(clean_a: int, clean_b: int, *, until: int = 60, notes: int = 16, seed: int = 4) -> Trial:
    trial = begin(TrialSettings(), notes, 112, seed)
    while (turn := trial.next()) is not None and turn.pair < until:
        trial = trial.after(turn, clean_a if turn.way == "a" else clean_b, notes, 8.0, 4.0)
    return trial


def test_the_new_way_is_cleaner():
    outcome = made("b", difference=-0.07, low=-0.13, high=-0.01)
    assert words(outcome, "plan 1", "plan 2", "fingering") == (
        "With plan 2 you missed about one note fewer in each run of 16 at 112 (between none and "
        "two); it changes 5 fingerings. Take plan 2."
    )
    assert "it changes what you know on 5 notes. Take" in words(outcome, "plan 1", "plan 2")


def test_the_known_way_is_cleaner():
    said = words(made("a", fastest_bpm=126.0), "ta ka", "da ga")
    assert "With ta ka you missed" in said
    assert "at 112 to 126" in said
    assert said.endswith("and it is what you know already. Keep ta ka.")


def test_neither_is_known():
    assert words(made("a", relearned=0), "F side", "B flat side").endswith(". Take F side.")


def test_even():
    outcome = made("even", ended="even", difference=0.01, low=-0.05, high=0.06)
    assert words(outcome, "plan 1", "plan 2") == (
        "After 9 takes each at 112 they are even as far as anyone could tell: a difference of one "
        "note in ten would hide in at most 15 trials of 100. Keep what you know, plan 1."
    )
    free = words(made("even", ended="even", relearned=0), "x", "y")
    assert free.endswith("Take the one you like.")


@pytest.mark.parametrize(
    ("ended", "advice"),
    [
        ("", "More takes of each would settle it."),
        (
            "limit",
            "A longer passage would tell more, on another day; until then keep what you know, x.",
        ),
        ("tired", "Rest, and try them again fresh"),
        ("unheard", "`coach check`"),
    ],
)
def test_open_says_what_would_settle_it(ended, advice):
    said = words(made("open", ended=ended, low=-0.02, high=0.14), "x", "y")
    assert "it is still open: in each run of 16, x may be cleaner by up to two and a half" in said
    assert "y by up to half a note" in said
    assert advice in said


def test_small_differences_are_told_by_several_runs():
    said = words(made("a", difference=0.02, low=0.005, high=0.04), "x", "y")
    assert "one note fewer in three runs of 16" in said
    assert "(between none and one)" in said
    large = words(made("a", difference=0.5, low=0.45, high=0.54, notes=30), "x", "y")
    assert "15 notes fewer in each run of 30" in large


def test_what_was_only_watched_is_told_as_that():
    said = words(made("open", a=WayHeard(0.9, 8.0, 12.0), b=WayHeard(0.8, 14.0, 4.0)), "x", "y")
    assert "x lay closer to even (8 against 14 ms); that was only watched" in said
    assert "y kept tongue and fingers closer together (4 against 12 ms)" in said
    same = words(made("open", a=WayHeard(0.9, 8.0, None), b=WayHeard(0.8, 9.0, 4.0)), "x", "y")
    assert "only watched" not in same


@pytest.mark.parametrize("cleaner", ["a", "b", "even", "open"])
@pytest.mark.parametrize("ended", list(STOPPED))
def test_nothing_scolds(cleaner, ended):
    said = words(made(cleaner, ended=ended), "x", "y") + STOPPED[ended]
    assert not [word for word in SCOLDING if word in said.lower().split()]
    assert "  " not in said
    assert said[0].isupper()


def test_a_clear_trial_from_its_takes():
    trial = run(15, 12)
    outcome = outcome_of(trial, 5)
    assert (outcome.cleaner, outcome.ended) == ("a", "clear")
    assert outcome.difference == pytest.approx(3 / 16)
    assert 0 < outcome.low < 3 / 16 < outcome.high
    assert outcome.a == WayHeard(15 / 16, 8.0, 4.0)
    mirrored = outcome_of(run(12, 15), 5)
    assert (mirrored.cleaner, mirrored.low, mirrored.high) == ("b", -outcome.high, -outcome.low)


def test_equal_takes_end_as_even():
    outcome = outcome_of(run(14, 14))
    assert outcome.cleaner == "even"
    assert outcome.low < 0 < outcome.high
    assert "even as far as anyone could tell" in words(outcome, "x", "y")


def test_before_and_after_the_first_pair():
    nothing = outcome_of(begin(TrialSettings(), 16, 112, 4))
    assert (nothing.cleaner, nothing.pairs, nothing.low, nothing.high) == ("open", 0, -1, 1)
    assert "No pair of takes is whole yet" in words(nothing, "x", "y")
    one = outcome_of(run(16, 0, until=1))
    assert (one.cleaner, one.low, one.high) == ("open", -1, 1)


def test_as_json():
    data = json.loads(json.dumps(outcome_of(run(15, 12), 5).to_dict()))
    assert (data["cleaner"], data["relearned"], data["difference"]) == ("a", 5, 0.1875)
    assert data["b"] == {"share": 0.75, "spread_ms": 8.0, "lag_ms": 4.0}
