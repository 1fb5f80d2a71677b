"""Where letters of ours are missing."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import coach.screen
from coach.screen.letters import STAND_INS
from coach.screen.style import MARKS


def test_every_letter_of_the_screens_has_one_that_stands_in():
    """None of them a question mark, which says "unsure"."""
    for path in Path(coach.screen.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                for letter in node.value:
                    stands = letter.encode("ascii", STAND_INS)
                    assert letter == "?" or stands != b"?", f"{path.name}: {letter}"
                    assert len(stands) == 1, "tables keep their width"


def test_flats_stay_flats_and_marks_are_told_apart():
    assert "B♭3 – F♯4 é".encode("cp1252", STAND_INS) == b"Bb3 \x96 F#4 \xe9"
    assert "B♭3 – F♯4 é".encode("ascii", STAND_INS) == b"Bb3 - F#4 ?"
    marks = {mark.shape.encode("ascii", STAND_INS) for mark in MARKS.values()}
    assert len(marks) == len(MARKS)


def test_what_can_not_be_read_is_still_an_error():
    with pytest.raises(UnicodeDecodeError):
        b"\xff".decode("ascii", STAND_INS)
