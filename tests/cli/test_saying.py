"""What is printed is read, and no more."""

from __future__ import annotations

import io

import pytest

from coach.cli.saying import print as said


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("a", 5), "a 5\n"),
        (("two\nlines",), "two\nlines\n"),
        (("\x1b]0;title\x07name\x1b[2J",), " ]0;title name [2J\n"),
        (("\r3 of 4",), "\r3 of 4\n"),
        (("a\rb",), "a b\n"),
        (("\udcff\u202e",), "  \n"),
        ((), "\n"),
    ],
)
def test_what_a_terminal_would_obey_is_left_out(capsys, words, text):
    said(*words)
    assert capsys.readouterr().out == text


def test_for_what_the_encoding_lacks_something_stands_in():
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii")
    said("B♭ – é", end="!", file=out, flush=True)
    assert raw.getvalue() == b"Bb - ?!"
