"""`coach tutti` through a ritardando that is only a word."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest

from coach.cli import main

TUNE = """X:1
T:Evening
M:4/4
L:1/4
Q:1/4=120
V:1 name="Horn"
V:2 name="Violin"
K:C
V:1
CDEF|G"^rit."FED|[Q:"a tempo"]CDEF|GFED|
V:2
c4|c4|c4|c4|
"""
PLAY = ["--input", "player", "--fast", "--plain", "--simple-sound", "--takes", "1", "--lead", "0"]


def due_s(path, *options):
    words = [str(path), "--part", "Horn", "--tempo", "120", *options]
    events = path.with_suffix(".jsonl")
    assert main(["tutti", *words, *PLAY, "--events", str(events)]) == 0
    lines = [json.loads(line) for line in events.read_text("utf-8").splitlines()]
    start = next(event for event in lines if event["event"] == "take_start")
    return [note["onset_s"] for note in start["expected"]]


def test_everybody_slows_down_and_strict_time_does_not(tmp_path, capsys):
    path = tmp_path / "evening.abc"
    path.write_text(TUNE, "utf-8")
    strict, free = due_s(path, "--strict-time"), due_s(path)
    assert strict == pytest.approx([k / 2 for k in range(16)], abs=1e-4)
    assert free[:6] == pytest.approx(strict[:6], abs=1e-4)
    between = [b - a for a, b in pairwise(free)]
    # From 120 to 84 over three beats.
    assert 0.5 < between[5] < between[6] < between[7] < 60 / 84
    assert between[8:] == pytest.approx([0.5] * 7, abs=1e-4)
