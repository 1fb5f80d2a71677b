"""Bad input gives one sentence on the error output, status 2, and no traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from coach.cli import main

ROOT = Path(__file__).parent.parent.parent
GOOD = {"notes": [{"onset_s": 0.5, "duration_s": 0.2, "midi": 60}]}
RATE = 48000


def coach(*arguments: object, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "coach", *map(str, arguments)],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
        timeout=120,
    )


def refused(done: subprocess.CompletedProcess[str], *words: str, status: int = 2) -> None:
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("coach: ")
    for word in words:
        assert word in lines[0]


@pytest.fixture
def expect(tmp_path: Path) -> Path:
    path = tmp_path / "expect.json"
    path.write_text(json.dumps(GOOD))
    return path


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    path = tmp_path / "take.wav"
    soundfile.write(path, np.zeros(RATE, np.float32), RATE)
    return path


def test_missing_recording(expect, tmp_path):
    refused(coach("assess", tmp_path / "none.wav", "--expect", expect), "none.wav")


def test_directory_as_recording(expect, tmp_path):
    refused(coach("assess", tmp_path, "--expect", expect), str(tmp_path))


def test_binary_rubbish_as_recording(expect, tmp_path):
    path = tmp_path / "rubbish.wav"
    path.write_bytes(bytes(range(256)) * 20)
    refused(coach("assess", path, "--expect", expect), "rubbish.wav")


def test_empty_recording(expect, tmp_path):
    path = tmp_path / "empty.wav"
    soundfile.write(path, np.zeros(0, np.float32), RATE)
    refused(coach("assess", path, "--expect", expect), "empty.wav")


def test_recording_of_too_low_a_rate(expect, tmp_path):
    path = tmp_path / "low.wav"
    soundfile.write(path, np.zeros(8000, np.float32), 8000)
    refused(coach("assess", path, "--expect", expect), "8000")


def test_recording_of_another_rate_is_judged(expect, tmp_path):
    path = tmp_path / "other.wav"
    soundfile.write(path, np.zeros(44100, np.float32), 44100)
    done = coach("assess", path, "--expect", expect, "--json", tmp_path / "out.json")
    assert done.returncode == 0, done.stderr
    assert json.loads((tmp_path / "out.json").read_text())["notes"][0]["verdict"] == "missed"


def test_recording_that_is_too_short_for_the_notes_is_judged(expect, tmp_path):
    path = tmp_path / "short.wav"
    soundfile.write(path, np.zeros(2000, np.float32), RATE)
    done = coach("assess", path, "--expect", expect, "--json", tmp_path / "out.json")
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("{", "JSON"),
        ("[]", "notes"),
        ('{"notes": []}', "at least one note"),
        ('{"notes": [{"onset_s": 0, "duration_s": 1}]}', "midi is missing"),
        ('{"notes": [{"onset_s": "a", "duration_s": 1, "midi": 60}]}', "onset_s"),
        ('{"notes": [{"onset_s": 0, "duration_s": 1, "midi": 60.5}]}', "midi"),
        ('{"notes": [{"onset_s": 0, "duration_s": 0, "midi": 60}]}', "duration_s"),
        ('{"notes": [{"onset_s": 0, "duration_s": 1, "midi": 60}], "clicks_s": 5}', "clicks_s"),
        ("[" * 100_000, "brackets"),
        ('{"anchor": "x", "notes": [{"onset_s": 0, "duration_s": 1, "midi": 60}]}', "anchor"),
        ('{"instrument": "comb", "notes": [{"onset_s": 0, "duration_s": 1, "midi": 60}]}', "comb"),
    ],
)
def test_expected_notes_that_are_off(wav, tmp_path, text, word):
    path = tmp_path / "expect.json"
    path.write_text(text)
    refused(coach("assess", wav, "--expect", path), word)


def test_unknown_rules(wav, expect):
    refused(coach("assess", wav, "--expect", expect, "--rules", "cruel"), "cruel", "normal")


def test_a_bad_line_of_a_batch_does_not_stop_the_others(wav, expect, tmp_path):
    lines = [
        {"id": "a", "audio": wav.name, "expect": expect.name},
        {"id": "b", "audio": "none.wav", "expect": expect.name},
        {"id": "c", "audio": wav.name, "expect": expect.name},
    ]
    batch = tmp_path / "list.jsonl"
    batch.write_text("\n".join([*map(json.dumps, lines), "rubbish"]))
    done = coach("assess", "--batch", batch, "--json", tmp_path / "out.jsonl", "--jobs", 2)
    assert done.returncode == 0, done.stderr
    assert f"coach: 2 of 4 could not be judged; {tmp_path / 'out.jsonl'} says why" in done.stderr
    results = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
    assert [r["id"] for r in results] == ["a", "b", "c", None]
    assert ["error" in r for r in results] == [False, True, False, True]


@pytest.mark.parametrize(
    "text",
    [
        '{"id": "a", "audio": "a\\u0000b", "expect": "expect.json"}',
        '{"id": "a", "audio": "take.wav", "expect": "a\\u0000b"}',
        '{"id": NaN, "audio": "take.wav", "expect": "expect.json"}',
        '{"id": 1e999, "audio": "take.wav", "expect": "expect.json"}',
        '{"id": "a", "audio": 5, "expect": "expect.json"}',
        f'{{"id": {"9" * 5000}}}',
        "[" * 100_000,
        '{"id": "a\u2028", "audio": "none.wav", "expect": "expect.json"}',
    ],
)
def test_whatever_a_line_of_a_batch_is_it_is_one(expect, wav, tmp_path, text):
    (tmp_path / "list.jsonl").write_text(f"{text}\n", "utf-8")
    out = tmp_path / "out.jsonl"
    assert main(["assess", "--batch", str(tmp_path / "list.jsonl"), "--json", str(out)]) == 0
    (line,) = out.read_text("ascii").splitlines()
    result = json.loads(line, parse_constant=pytest.fail)
    assert set(result) == {"id", "error"}
    assert "could not be judged" not in result["error"]


def test_unknown_drill():
    refused(coach("drill", "scales-one-octav"), "scales-one-octave")


def test_drill_with_a_wrong_key(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        'title = "x"\ntemppo = 3\n[passage]\nnotes = ["C4 1/4"]\n[tempo]\nfrom=60\nto=70'
    )
    refused(coach("drill", path), "mine.toml", "temppo")


def test_drill_that_is_a_directory(tmp_path):
    path = tmp_path / "x.toml"
    path.mkdir()
    refused(coach("drill", path), "x.toml")


@pytest.mark.parametrize("tempo", ["-60", "0", "nan", "10000"])
def test_tempo_out_of_range(tempo):
    refused(coach("drill", "turns", f"--from={tempo}"), "--from", "10 to 400")


def test_from_above_to():
    refused(coach("drill", "turns", "--from", "120", "--to", "60"), "--from 120", "--to 60")


def test_unknown_instrument():
    refused(coach("drill", "turns", "--instrument", "comb"), "comb", "see coach instrument")


def test_input_that_is_no_input():
    refused(coach("drill", "turns", "--input", "telepathy"), "telepathy")


def test_home_that_cannot_be_written(tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder should be")
    played = ["--input", "player", "--fast", "--plain", "--takes", "1"]
    done = coach("drill", "turns", *played, COACH_HOME=str(blocked))
    # Practising goes on; that nothing is kept is told in a sentence.
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert "can't be written" in done.stderr
    assert "COACH_HOME" in done.stderr


def test_events_that_cannot_be_written(tmp_path):
    refused(coach("demo", "--fast", "--events", tmp_path / "no" / "events.jsonl"), "events")


@pytest.mark.parametrize("option", ["--takes=0", "--threshold=2", "--off-bars=3", "--click=gong"])
def test_options_out_of_range(option):
    refused(coach("demo", "--fast", option), option.split("=")[0])


def test_output_into_a_closed_pipe():
    command = f"{sys.executable} -m coach drills | head -1"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, cwd=ROOT)
    assert "Traceback" not in done.stderr
