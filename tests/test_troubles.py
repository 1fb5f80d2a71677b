"""Each row of the README's table of troubles has its tests, and they are there: troubles.toml."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

HERE = Path(__file__).parent
README = (HERE.parent / "README.md").read_text(encoding="utf-8")
TESTS = tomllib.loads((HERE / "troubles.toml").read_text(encoding="utf-8"))
SECTION = "## When something goes wrong\n"


def rows() -> list[list[str]]:
    """The cells of the table, without its head."""
    section = README.partition(SECTION)[2].partition("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def test_each_row_has_tests_and_each_test_a_row():
    assert [fault for fault, _, _ in rows()] == list(TESTS)
    assert all(cell for row in rows() for cell in row)


@pytest.mark.parametrize("fault", TESTS)
def test_they_are_there(fault):
    assert TESTS[fault]
    for test in TESTS[fault]:
        path, _, name = test.partition("::")
        text = (HERE / path).read_text(encoding="utf-8")
        assert re.search(rf"^def {re.escape(name)}\(", text, re.MULTILINE), test
