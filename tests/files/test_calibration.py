"""What `coach check` measured, kept and read again; a file somebody spoilt is as good as none."""

from __future__ import annotations

import json

import pytest

from coach.files import calibration
from coach.files.calibration import (
    Calibration,
    store_delay,
    store_round_trip,
    stored_delay,
    stored_round_trip,
)
from coach.files.configs import own_folder

GOOD = {"seconds": 0.0123, "spread_ms": 0.5, "rate": 48000}


def written(text: str) -> None:
    own_folder().mkdir(exist_ok=True)
    (own_folder() / calibration.FILE).write_text(text)


def test_what_was_measured_is_found():
    made = Calibration(**GOOD)
    assert stored_round_trip("a", "b") is None
    store_round_trip("a", "b", made)
    store_delay("synth", Calibration(-0.004, 1.0, 44100))
    assert stored_round_trip("a", "b") == made
    assert stored_round_trip("b", "a") is None
    assert stored_delay("synth") == Calibration(-0.004, 1.0, 44100)


@pytest.mark.parametrize(
    "changes",
    [
        {"seconds": "0.01"},
        {"seconds": None},
        {"seconds": float("nan")},
        {"seconds": 99},
        {"spread_ms": -1},
        {"rate": 0},
        {"rate": 48000.5},
        {"rate": True},
        {"more": 1},
    ],
)
def test_what_can_not_have_been_measured_is_passed_over(changes):
    written(json.dumps({"a | b": {**GOOD, **changes}, "c | d": GOOD}))
    assert stored_round_trip("a", "b") is None
    assert stored_round_trip("c", "d") == Calibration(**GOOD)


@pytest.mark.parametrize("text", ["", "{", "[1]", "[" * 100_000, '{"a | b": 3}', "\0"])
def test_a_spoilt_file_is_as_good_as_none(text):
    written(text)
    assert stored_round_trip("a", "b") is None
