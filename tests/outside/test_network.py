"""Nothing here ever asks for the network: commands are run in a process that would be killed for
it (and no module knows how: test_no_code)."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.outside import locked
from tests.sharing import fill
from tests.test_imports import ROOT

# Run one after the other in one process, with all that they import.
COMMANDS = """
drills
help
passage turns.abc
passage turns.abc --out mine.musicxml
passage mine.musicxml --part 1 --hard 2
passage mine.musicxml --out mine.mid
passage mine.musicxml --out mine.toml
passage mine.mid --json passage.json
fingering turns
tonguing turns
sheet mine.toml --out sheet.pdf
drill mine.toml --input player --fast --plain --takes 1
warmup --minutes 5 --show
assess take.wav --expect expect.json
assess take.wav --expect free.json
learn --input take.wav --bpm 60 --bars 1 --count-in 0 --out learned --yes
tuner --input take.wav --plain
listen last --out heard.wav
review
review --html review.html
today
next
export all.jsonl
export all.csv
import all.jsonl
assign set.jsonl turns
tutti mine.musicxml --part 1 --input player --fast --plain --takes 1
devices
"""
PROGRAM = """
import importlib, sys
from pathlib import Path

def refuse(event, arguments):
    if event.startswith(("socket.", "urllib.", "http.", "ftplib.", "smtplib.")):
        raise RuntimeError(f"the network is asked for: {event} {arguments}")

sys.addaudithook(refuse)
from tests.outside.locked import can_lock, lock
if can_lock():
    lock()
from coach.cli import COMMANDS, main
for name in COMMANDS:
    importlib.import_module(f"coach.cli.{name}")
for number, line in enumerate(Path(sys.argv[1]).read_text().splitlines()):
    try:
        status = main(line.split())
    except SystemExit as stop:
        status = stop.code
    print(f"ran {number}: {status}", flush=True)
"""


@pytest.fixture
def there(tmp_path) -> Path:
    """A folder with what the commands read."""
    t = np.arange(4 * 16_000) / 16_000
    sound = 0.3 * np.sin(2 * np.pi * 220 * t) * (t % 1 < 0.8)
    soundfile.write(tmp_path / "take.wav", sound.astype(np.float32), 16_000)
    notes = '[{"onset_s": 0, "duration_s": 0.8, "midi": 57}, '
    notes += '{"onset_s": 1, "duration_s": 0.8, "midi": 57}]'
    (tmp_path / "expect.json").write_text(f'{{"notes": {notes}, "clicks_s": [0, 1]}}')
    (tmp_path / "free.json").write_text(f'{{"notes": {notes}, "anchor": "free"}}')
    (tmp_path / "turns.abc").write_text("X:1\nT:x\nM:4/4\nL:1/4\nQ:120\nK:C\nCDEF|GABc|\n")
    fill(tmp_path / "practice.sqlite", takes=3)
    return tmp_path


def test_no_command_asks_for_the_network(there):
    lines = COMMANDS.strip().splitlines()
    (there / "commands").write_text("\n".join(lines))
    env = {**os.environ, "COACH_HOME": str(there), "PYTHONPATH": str(ROOT.parent)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, "commands"],
        cwd=there,
        env=env,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        timeout=300,
        check=False,
    )
    ran = [line.rpartition(" ")[2] for line in done.stdout.splitlines() if line[:4] == "ran "]
    assert done.returncode == 0, (done.returncode, done.stderr[-2000:])
    assert "network" not in done.stderr
    told = dict(zip(lines, ran, strict=True))
    # A machine without sound has no devices; all else is done.
    assert {line: status for line, status in told.items() if status != "0"} in (
        {},
        {"devices": "3"},
    ), done.stderr[-3000:]


@pytest.mark.skipif(not locked.can_lock(), reason="there is no such filter here")
@pytest.mark.parametrize("family", ["AF_INET", "AF_INET6"])
def test_a_process_that_asks_is_killed(family):
    """So that the test above can fail: through C, as through Python."""
    program = f"""
import ctypes, socket
from tests.outside.locked import lock
lock()
socket.socketpair()
print("here", flush=True)
ctypes.CDLL(None).socket(int(socket.{family}), 1, 0)
print("never", flush=True)
"""
    env = {**os.environ, "PYTHONPATH": str(ROOT.parent)}
    command = [sys.executable, "-c", program]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert done.stdout == "here\n", done.stderr
    assert done.returncode == -31  # SIGSYS


def test_the_sheet_fetches_no_package_and_runs_no_text():
    """Typst fetches what is imported from a namespace ("@preview/...")."""
    for path in ROOT.rglob("*.typ"):
        assert "@" not in path.read_text("utf-8")
        assert "http" not in path.read_text("utf-8")
        assert "eval(" not in path.read_text("utf-8")
