"""The keys of a Windows console; a stand-in for its library says what was pressed."""

from __future__ import annotations

import sys
import tomllib
from collections import deque
from pathlib import Path
from types import SimpleNamespace

import pytest

from coach.ports.keys import Keys

CONFIG = Path(__file__).parents[2] / "configs" / "keys.toml"
MAPPING = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["keys"]


@pytest.fixture
def pressed(monkeypatch):
    """What is put into it was pressed; to read more than there is would wait for ever."""
    came: deque[str] = deque()
    library = SimpleNamespace(kbhit=lambda: bool(came), getwch=lambda: came.popleft())
    terminal = SimpleNamespace(isatty=lambda: True)
    monkeypatch.setitem(sys.modules, "msvcrt", library)
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(sys, "__stdin__", terminal)
    monkeypatch.setattr(sys, "__stdout__", terminal)
    return came


def test_every_key_gives_its_command(pressed):
    with Keys(MAPPING) as keys:
        assert keys.poll() == []
        pressed.extend(" \rrR-+=")
        # Up, down, right, left, and a function key that has no command (scan codes 72 to 77, 59).
        pressed.extend("\xe0H\xe0P\xe0M\xe0K\x00;x")
        pressed.extend("q")
        assert keys.poll() + keys.poll() == [
            "go", "go", "again", "again", "slower", "faster", "faster",
            "faster", "slower", "faster", "slower", "quit",
        ]  # fmt: skip
        pressed.extend("\x1b")
        assert keys.poll() == ["quit"]


def test_a_letter_that_looks_like_the_start_of_more_waits_for_nothing(pressed):
    with Keys({**MAPPING, "again": ["à"]}) as keys:
        pressed.append("\xe0")
        assert keys.poll() == ["again"]
        assert not pressed


def test_ctrl_c_between_two_looks_ends_the_session(pressed):
    pressed.append("\x03")
    with Keys(MAPPING) as keys, pytest.raises(KeyboardInterrupt):
        keys.poll()
