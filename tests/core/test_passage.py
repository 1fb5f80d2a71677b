"""Passages: order, bars, moving."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import MeterChange, Note, Passage, bar_index, from_bar, in_a_row

QUARTER = Fraction(1)
LENGTHS = st.fractions(Fraction(1, 16), 4, max_denominator=48)


def test_overlap_is_refused():
    notes = (Note(60, Fraction(0), QUARTER), Note(62, Fraction(1, 2), QUARTER))
    with pytest.raises(ValueError, match="overlap at beat 1/2"):
        Passage(notes)


@given(LENGTHS, LENGTHS, LENGTHS)
def test_just_what_begins_before_the_end_overlaps(start, length, later):
    """Against fractions as Python adds and compares them; right at the end is no overlap."""
    first = Note(60, start, length)
    Passage((first, Note(62, start + length, QUARTER)))
    second = Note(62, start + later, QUARTER)
    if start + later < start + length:
        with pytest.raises(ValueError, match="overlap"):
            Passage((first, second))
    else:
        Passage((first, second))


@pytest.mark.parametrize("length", [0, -1])
def test_no_length_is_refused(length):
    with pytest.raises(ValueError, match="no length"):
        Passage((Note(60, Fraction(0), Fraction(length)),))


@pytest.mark.parametrize(
    ("quarters", "bar", "length"),
    [(4, 4, 4), (5, 4, 8), (3, 3, 3), (7, 3, 9), (1, Fraction(7, 2), Fraction(7, 2))],
)
def test_whole_bars(quarters, bar, length):
    passage = Passage(in_a_row([60] * quarters, QUARTER), bar_beats=Fraction(bar))
    assert passage.end_beats == quarters
    assert passage.length_beats == length


def test_a_row_with_rests():
    notes = in_a_row([60, 62, None, 64, 65], Fraction(1, 2), slurred=True)
    assert [n.start_beats for n in notes] == [0, Fraction(1, 2), Fraction(3, 2), 2]
    assert [n.slurred for n in notes] == [False, True, False, True]


@given(st.lists(st.one_of(st.none(), st.integers(29, 82)), max_size=40), LENGTHS)
def test_a_row_is_even_and_in_order(pitches, length):
    notes = in_a_row(pitches, length)
    passage = Passage(notes)
    assert [n.pitch for n in notes] == [p for p in pitches if p is not None]
    assert all((n.start_beats / length).denominator == 1 for n in notes)
    assert 0 <= passage.length_beats - passage.end_beats < passage.bar_beats


@given(st.integers(-24, 24))
def test_moving_keeps_everything_but_pitch(semitones):
    passage = Passage(in_a_row([60, 64, 67], QUARTER, slurred=True), "invented", fifths=1)
    away = passage.transposed(semitones)
    assert [n.pitch for n in away.notes] == [60 + semitones, 64 + semitones, 67 + semitones]
    assert away.transposed(-semitones) == passage


WALTZ = MeterChange(Fraction(4), Fraction(3), QUARTER)


def changing():
    notes = tuple(Note(60 + k, Fraction(k), QUARTER) for k in range(10))
    return Passage(notes, changes=(WALTZ,))


def test_bars_follow_the_meter():
    spans = [(bar.start_beats, bar.end_beats) for bar in changing().bars]
    assert spans == [(0, 4), (4, 7), (7, 10)]
    assert changing().length_beats == 10
    assert [bar_index(changing().bars, Fraction(k)) for k in (0, 4, 6, 7, 99)] == [0, 1, 1, 2, 2]


def test_from_a_bar_on_its_own_meter_comes_first():
    later = from_bar(changing(), 1)
    assert (later.bar_beats, later.changes) == (3, ())
    assert [note.start_beats for note in later.notes] == [0, 1, 2, 3, 4, 5]
    assert from_bar(changing(), 0) == changing()


@pytest.mark.parametrize("beat", [0, 3, -4])
def test_a_meter_changes_on_a_bar_line_only(beat):
    with pytest.raises(ValueError, match=f"no bar can begin at beat {beat}"):
        Passage(changing().notes, changes=(MeterChange(Fraction(beat), Fraction(3), QUARTER),))
