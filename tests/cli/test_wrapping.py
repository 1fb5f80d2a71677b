"""Sentences on a terminal and in a pipe."""

from __future__ import annotations

import sys

import pytest

from coach.cli import main
from coach.cli.wrapping import columns, for_errors, in_rows

SENTENCE = (
    "nothing has been played yet in all these years; begin with: coach drill turns --from 60."
)


def test_a_pipe_gets_one_line(capsys):
    assert in_rows(SENTENCE, None, "  1  ") == [f"  1  {SENTENCE}"]
    assert columns(sys.stdout) is None
    assert main(["drill", "nosuch" * 30]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("width", [20, 40, 60])
def test_no_command_is_broken(width):
    rows = in_rows(SENTENCE, width, "", "  ")
    assert any("coach drill turns --from 60." in row for row in rows)
    assert all(len(row) <= max(width, 31) for row in rows)
    assert " ".join(" ".join(rows).split()) == SENTENCE
    quoted = in_rows("so many words before it that `coach help gate` must move", 40)
    assert any("`coach help gate`" in row for row in quoted)


def test_an_error_is_broken_where_a_terminal_shows_it(monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    assert for_errors(SENTENCE) == f"coach: {SENTENCE}"
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    rows = for_errors(SENTENCE).split("\n")
    assert len(rows) > 1
    assert max(map(len, rows)) <= 50
    assert rows[0].startswith("coach: nothing")
