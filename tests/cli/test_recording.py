"""A recording in place of the microphone goes through the same session."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from random import Random

import pytest

from coach.core.exercise import Exercise
from coach.core.timeline import count_in_frames, plan_take
from coach.files.audio import write_audio
from coach.files.drillshelf import load_drill
from coach.ports.player.skill import STEADY, Fault, perform
from coach.ports.player.tone import render
from tests.cli.test_bad_input import coach

RATE = 48000


@pytest.fixture
def recording(tmp_path):
    """One take of the demo's run at 80: note 5 left out; from the first click of the count-in."""
    drill, instrument = load_drill("demo-run")
    exercise = Exercise(drill.variants[0], 80, instrument.transposition, drill.click)
    plan = plan_take(exercise, RATE, count_in_frames(exercise, RATE))
    script = {5: Fault(missing=True)}
    played = perform(plan, replace(STEADY, jitter_ms=2.0), Random(4), script=script)
    path = tmp_path / "take.wav"
    write_audio(path, render(played, RATE, 0, plan.end_frame + RATE), RATE)
    return path


def test_a_recording_is_judged_as_it_would_be_live(recording, tmp_path):
    log = tmp_path / "events.jsonl"
    done = coach(
        "drill", "demo-run", "--input", recording, "--from", 80, "--takes", 1, "--events", log,
        "--rules", "easy",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in log.read_text().splitlines()]
    faults = {
        e["index"]: e["verdict"]
        for e in told
        if e["event"] == "verdict" and e["verdict"] != "clean"
    }
    assert faults == {5: "missed"}
    assert told[0]["downbeat_frame"] == count_in_frames_at_80()


def count_in_frames_at_80() -> int:
    return 4 * 60 * RATE // 80


def test_the_take_is_in_the_practice_book(recording, tmp_path):
    import sqlite3

    coach("drill", "demo-run", "--input", recording, "--from", 80, "--takes", 1)
    with sqlite3.connect(f"{os.environ['COACH_HOME']}/practice.sqlite") as book:
        rows = book.execute("SELECT drill, tempo_bpm, notes FROM takes").fetchall()
    assert rows == [("demo-run", 80.0, 17)]


def test_a_recording_that_ends_too_soon_is_said(recording, tmp_path):
    log = tmp_path / "events.jsonl"
    done = coach("drill", "demo-run", "--input", recording, "--from", 80, "--events", log)
    assert done.returncode == 0
    last = json.loads(log.read_text().splitlines()[-1])
    assert last == {"event": "session_end", "reason": "the recording ended"}
