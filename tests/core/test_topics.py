"""How the texts of `coach help` are laid out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.topics import Topic, laid_out, plain

TEXT = """A note is clean within 25 ms or 20 % of the interval; see `coach help
verdict` for the rest of what is said of a note.

- one: the first of the items, so long that it goes on in another row
- two

    coach drill NAME --from 60 --to 100 --takes 5

The end."""
TOPIC = Topic("gate", "The gate", "tempo", TEXT, ("threshold",), ("pace",))


def test_rows_fit_but_for_what_is_to_be_typed():
    rows = laid_out(TOPIC, 40)
    assert rows[:2] == ["The gate", ""]
    assert [row for row in rows if len(row) > 40] == [
        "    coach drill NAME --from 60 --to 100 --takes 5"
    ]
    assert "- one: the first of the items, so long" in rows
    assert "  that it goes on in another row" in rows
    assert rows[-1] == "See also: pace (`coach help WORD`)"


@given(st.integers(20, 100))
def test_figures_stay_beside_their_units_and_commands_in_one_piece(width):
    rows = laid_out(TOPIC, width)
    assert any("25 ms" in row for row in rows)
    assert any("20 %" in row for row in rows)
    assert any("`coach help verdict`" in row for row in rows)
    assert "\N{NO-BREAK SPACE}" not in "".join(rows)


@given(st.integers(20, 100))
def test_no_word_is_lost(width):
    told = " ".join(laid_out(replace(TOPIC, see=()), width)[2:]).split()
    assert told == TEXT.split()


@pytest.mark.parametrize("word", ["gate", "Gate", "THRESHOLD", " gate "])
def test_a_topic_answers_to_its_names(word):
    assert TOPIC.answers(word)


def test_a_topic_answers_to_nothing_else():
    assert not TOPIC.answers("gates")
    assert plain("Clean  Tempo") == plain("clean-tempo") == plain("clean_tempo") == "clean-tempo"
