"""What an error says is one line, and nothing that a terminal would obey."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coach.errors import CoachError, FileError, printable


def test_what_where_and_what_to_do():
    assert str(CoachError("it is not there")) == "it is not there."
    assert str(FileError("it is not there", "a.toml", "look")) == "a.toml: it is not there; look."


@given(st.text(), st.text(), st.text())
def test_any_words_are_one_line_that_can_be_shown(what, where, hint):
    said = str(CoachError(what, where, hint))
    assert said.isprintable()
    assert len(said) == len(printable(said))


def test_escapes_marks_of_direction_and_half_letters_are_blanks():
    assert printable("a\x1b[2J\x07\u202eb\udcffc\n\x85d é♭") == "a [2J  b c  d é♭"
