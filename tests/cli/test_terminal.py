"""The terminal while the coach plays: another size, Ctrl-Z, Ctrl-C, closed; and none at all."""

from __future__ import annotations

import shlex
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.cli.test_bad_input import ROOT, refused

pytest.importorskip("termios")
Terminal = pytest.importorskip("tests.cli.terminal").Terminal

# xterm's private modes: 1049 the other screen, 25 the cursor.
TAKEN, GIVEN_BACK, CURSOR = "\x1b[?1049h", "\x1b[?1049l", "\x1b[?25h"
# A tempo that is never reached: it plays on until it is stopped.
ENDLESS = """
title = "Four"
rest_beats = 0
[passage]
notes = ["F4 1/8", "G4 1/8", "A4 1/8", "F4 1/8"]
[tempo]
from = 200
to = 400
[gate]
rule = "steps"
step_percent = 0.5
"""


@pytest.fixture
def drill(tmp_path: Path) -> list[object]:
    path = tmp_path / "four.toml"
    path.write_text(ENDLESS)
    return ["drill", path, "--input", "player", "--fast", "--no-sound"]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def takes_kept(home: Path) -> int:
    """In a book that is sound."""
    with closing(sqlite3.connect(home / "practice.sqlite")) as book:
        assert book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert book.execute("SELECT ended FROM sessions").fetchall() == [("done",)]
        return int(book.execute("SELECT count(*) FROM takes").fetchone()[0])


def test_it_fits_any_window_steps_aside_and_ends(drill, home):
    """Shrunk to 20 columns and 5 lines, grown again, stopped by Ctrl-Z and back; then Ctrl-C, twice
    as people do."""
    with Terminal("-m", "coach", *drill, COACH_HOME=str(home)) as window:
        window.until("take 2", window.until(TAKEN))
        for size in ((20, 5), (220, 70)):
            window.resize(*size)
            for _ in range(3):
                window.until("\x1b[H", len(window.output))
        stopped = len(window.output)
        window.type("\x1a")
        assert window.told() == "stopped"
        window.until(GIVEN_BACK, window.until(CURSOR, stopped))
        assert window.modes == window.modes_before
        back = len(window.output)
        window.go_on()
        window.until("paused", window.until(TAKEN, back))
        assert window.by_keys
        window.type(" ")
        window.until("take ", len(window.output))
        window.type("\x03\x03")
        window.until("stopped by the player", window.until(GIVEN_BACK, len(window.output)))
        assert window.told() == "ended 0"
        assert window.modes == window.modes_before
        assert "Traceback" not in window.output
    assert takes_kept(home) >= 1


def test_a_closed_window_ends_the_session_in_order(drill, home):
    with Terminal("-m", "coach", *drill, COACH_HOME=str(home)) as window:
        window.until("take 2", window.until(TAKEN))
        window.hang_up()
        assert window.told() == "ended 0"
    assert takes_kept(home) >= 1
    assert list((home / "backups").glob("practice-*.sqlite"))


def coach(command: str) -> subprocess.CompletedProcess[str]:
    """In a shell, as `coach`."""
    line = f'coach() {{ "{sys.executable}" -m coach "$@"; }}; set -o pipefail; {command}'
    return subprocess.run(["bash", "-c", line], capture_output=True, text=True, cwd=ROOT)


def test_nobody_reads_on():
    """The pipe is closed at once, before anything is written."""
    for command in ("--version", "drills"):
        done = coach(f"coach {command} | true")
        assert done.stderr == "", command


def test_standard_streams_may_be_closed(drill):
    done = coach(f"coach {shlex.join(map(str, drill))} --takes 1 --plain <&- >&-")
    assert (done.returncode, done.stderr) == (0, "")
    done = coach("coach learn --out x --input none.wav <&- 2>&-")
    assert (done.returncode, done.stderr) == (2, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device is always full")
def test_what_is_printed_finds_no_room():
    refused(coach("coach --version > /dev/full"), "no space left", "make room")
