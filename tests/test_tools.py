"""The linters, as tests: style, formatting, and strict types in the core."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

COMMANDS = {
    "ruff check": ["ruff", "check", "."],
    "ruff format": ["ruff", "format", "--check", "."],
    "mypy": ["mypy"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_linter_finds_nothing(name):
    pytest.importorskip(COMMANDS[name][0])
    found = subprocess.run(
        [sys.executable, "-m", *COMMANDS[name]], cwd=ROOT, capture_output=True, text=True
    )
    assert found.returncode == 0, found.stdout + found.stderr
