"""A coach killed at any instant of whatever it does with the book."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

KILLS, OF_EACH = 60, 6
# Files in memory: a process that is killed loses nothing of what it wrote to the one or the other,
# and nobody waits for a disk.
MEMORY = Path("/dev/shm")
pytestmark = pytest.mark.skipif(os.name != "posix", reason="nothing forks")


@pytest.fixture
def folder(tmp_path) -> Iterator[Path]:
    where = MEMORY if os.access(MEMORY, os.W_OK) else tmp_path
    with tempfile.TemporaryDirectory(dir=where) as made:
        yield Path(made)


def ended(program: str, *args: object) -> str:
    command = [sys.executable, "-m", program, *map(str, args)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_killed_at_any_instant_it_keeps_what_it_said_it_kept(folder):
    said = ended("tests.book.killed", folder / "book.sqlite", KILLS, 7)
    killed, told = map(int, said.split())
    assert killed > KILLS // 2
    assert told > KILLS


def test_killed_in_what_it_does_seldom_it_leaves_the_old_book_or_the_new(folder):
    lines = ended("tests.book.killed_once", folder, OF_EACH, 7).splitlines()
    killed = {name: int(count) for name, count in map(str.split, lines)}
    assert set(killed) == {"version-1", "version-2", "backup", "aside", "import"}
    assert min(killed.values()) >= OF_EACH // 2
