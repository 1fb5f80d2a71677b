"""`coach demo` runs the whole job: player, ear, judge, gate, screen."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.cli.test_bad_input import ROOT, coach


def events(path: Path) -> list[dict]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_the_demo_runs_to_its_summary(tmp_path):
    log = tmp_path / "events.jsonl"
    done = coach("demo", "--fast", "--events", log)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    told = events(log)
    ends = [e for e in told if e["event"] == "take_end"]
    assert len(ends) == 5
    assert "takes: 5" in done.stdout
    assert told[-1] == {"event": "session_end", "reason": "5 takes done"}
    verdicts = [e for e in told if e["event"] == "verdict" and not e.get("revised")]
    assert len(verdicts) == sum(e["notes"] for e in told if e["event"] == "take_start")


def test_the_gate_moves_by_the_accuracy(tmp_path):
    log = tmp_path / "events.jsonl"
    coach("demo", "--fast", "--seed", 3, "--events", log)
    told = events(log)
    starts = [e["tempo_bpm"] for e in told if e["event"] == "take_start"]
    ends = [e for e in told if e["event"] == "take_end"]
    assert {e["passed"] for e in ends} == {True, False}
    for tempo, end in zip(starts, ends, strict=True):
        assert end["passed"] == (end["accuracy"] >= 0.9)
        assert (end["next_tempo_bpm"] > tempo) == end["passed"]


def test_the_same_seed_gives_the_same_session(tmp_path):
    logs = [tmp_path / "a.jsonl", tmp_path / "b.jsonl"]
    for log in logs:
        coach("demo", "--fast", "--seed", 7, "--takes", 2, "--events", log)
    assert logs[0].read_text() == logs[1].read_text()
    assert len(events(logs[0])) > 10


def test_no_sound_card_library_is_needed(tmp_path):
    """PortAudio is never loaded by the demo: a broken one does no harm."""
    broken = tmp_path / "sounddevice.py"
    broken.write_text("raise OSError('PortAudio library not found')")
    for name in ("rtmidi.py", "rtmixer.py"):
        (tmp_path / name).write_text("raise ImportError('not here')")
    done = subprocess.run(
        [sys.executable, "-m", "coach", "demo", "--fast", "--takes", "1"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}"},
    )
    assert done.returncode == 0, done.stderr


def test_without_portaudio_the_drill_says_what_to_install(tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    path = f"{tmp_path}{os.pathsep}{ROOT}"
    done = coach("drill", "turns", PYTHONPATH=path)
    assert done.returncode == 3
    assert "libportaudio2" in done.stderr
    assert "Traceback" not in done.stderr
