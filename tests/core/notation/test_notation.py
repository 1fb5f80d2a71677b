"""Bars are filled exactly, ties join to the notes of the passage, and the beat can be seen.

The pictures of single bars are common practice (as in any rudiments book), no single source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.notation import notated
from coach.core.notation.beams import beam_count
from coach.core.notation.model import VALUES
from coach.core.passage import Note, Passage
from tests.core.notation.making import in_words, lengths, passages


def printed_beats(sign):
    """What the printed sign lasts, by value, dots and tuplet."""
    beats = VALUES[sign.value] * (2 - Fraction(1, 2**sign.dots))
    return beats * sign.tuplet.normal / sign.tuplet.actual if sign.tuplet else beats


@settings(max_examples=300)
@given(passage=passages())
def test_bars_are_filled_and_ties_join_to_the_notes(passage):
    bars = notated(passage)
    assert tuple(bar.span for bar in bars) == passage.bars
    for bar in bars:
        at = bar.span.start_beats
        for sign in bar.signs:
            assert sign.start_beats == at
            assert sign.whole_bar or printed_beats(sign) == sign.length_beats
            at = sign.end_beats
        assert at == bar.span.end_beats
    joined = {}
    for sign in (sign for bar in bars for sign in bar.signs if sign.note is not None):
        assert sign.tied_back == (sign.note in joined)
        start, _ = joined.get(sign.note, (sign.start_beats, None))
        joined[sign.note] = (start, sign.end_beats)
        assert sign.tied_on == (sign.end_beats < passage.notes[sign.note].end_beats)
    assert joined == {k: (n.start_beats, n.end_beats) for k, n in enumerate(passage.notes)}


@settings(max_examples=200)
@given(passage=passages())
def test_tuplets_are_whole(passage):
    """Each begins and ends once, its signs stand together, and it lasts some halves of beats."""
    for bar in notated(passage):
        for tuplet, group in groupby(bar.signs, key=lambda sign: sign.tuplet):
            signs = list(group)
            starts = [place for place, sign in enumerate(signs) if sign.starts_tuplet]
            ends = [place for place, sign in enumerate(signs) if sign.ends_tuplet]
            if tuplet is None:
                assert not starts
                assert not ends
            else:
                assert (starts, ends) == ([0], [len(signs) - 1])
                assert tuplet.normal < tuplet.actual < 2 * tuplet.normal
                length = sum((sign.length_beats for sign in signs), Fraction(0))
                assert length.denominator & (length.denominator - 1) == 0


@settings(max_examples=200)
@given(passage=passages())
def test_beams_are_closed(passage):
    for bar in notated(passage):
        open_levels = set()
        for sign in bar.signs:
            assert len(sign.beams) in (0, beam_count(sign))
            for level in range(8):
                word = sign.beams[level] if level < len(sign.beams) else ""
                assert (level in open_levels) == (word in ("continue", "end")), "beams cross"
                if word == "begin":
                    open_levels.add(level)
                if word == "end":
                    open_levels.discard(level)
        assert not open_levels


@pytest.mark.parametrize(
    ("meter", "notes", "printed"),
    [
        ("4/4", "1 2 1", "4 2 4"),
        ("4/4", "3/2 5/2", "4. 8~ 2"),
        ("4/4", "1/2 1 1/2 2", "8 4 8 2"),
        ("4/4", "1 1/2 1 3/2", "4 8 8~ 8 4."),
        ("4/4", "1/2 3 1/2", "8 4.~ 4. 8"),
        ("4/4", "1 3", "4 2."),
        ("4/4", "3 1", "2. 4"),
        ("4/4", "7/2 1/2", "2~ 4. 8"),
        ("4/4", "6 2", "1~ | 2 2"),
        ("4/4", "r1 1 r2", "r4 4 r2"),
        ("4/4", "1 r2 1", "4 r4 r4 4"),
        ("4/4", "1/2 r3/2 2", "8 r8 r4 2"),
        ("4/4", "r4 1 r3", "r1 | 4 r4 r2"),
        ("4/4", "3/4 1/4 1/4 3/4 2", "8. 16 16 8. 2"),
        ("4/4", "1/4 1/2 1/4 3", "16 8 16 2."),
        ("4/4", "3/4 1/2 3/4 2", "8. 16~ 16 8. 2"),
        ("4/4", "7/8 1/8 3", "8.. 32 2."),
        ("3/4", "3", "2."),
        ("3/4", "1/2 2 1/2", "8 8~ 4. 8"),
        ("3/4", "r1 2", "r4 2"),
        ("3/4", "1 r2", "4 r4 r4"),
        ("2/2", "1 2 1", "4 2 4"),
        ("6/8", "1 1 1", "4 8~ 8 4"),
        ("6/8", "3/2 1 1/2", "4. 4 8"),
        ("6/8", "1/2 1 r3/2", "8 4 r4."),
        ("6/8", "r1 2", "r4 8~ 4."),
        ("6/8", "1/2 r1 3/2", "8 r8 r8 4."),
        ("12/8", "3/2 3 3/2", "4. 2. 4."),
        ("9/8", "9/2", "2.~ 4."),
        ("5/4", "5", "1~ 4"),
        ("7/8", "1 1 3/2", "4 4 4."),
        ("4/4", "1/3 1/3 1/3 3", "3:2(8 8 8) 2."),
        ("4/4", "2/3 1/3 3", "3:2(4 8) 2."),
        ("4/4", "2/3 2/3 2/3 2", "3:2(4 4 4) 2"),
        ("4/4", "4/3 4/3 4/3", "3:2(2 2 2)"),
        ("4/4", "1/6 1/6 1/6 1/6 1/6 1/6 3", "6:4(16 16 16 16 16 16) 2."),
        ("4/4", "1/4 1/4 1/6 1/6 1/6 3", "16 16 3:2(16 16 16) 2."),
        ("4/4", "1/5 1/5 1/5 1/5 1/5 3", "5:4(16 16 16 16 16) 2."),
        ("4/4", "1/7 1/7 1/7 1/7 1/7 1/7 1/7 3", "7:4(16 16 16 16 16 16 16) 2."),
        ("4/4", "5/3 1/3 2", "4~ 3:2(4 8) 2"),
        ("4/4", "1/3 2/3 r2/3 1/3 2", "3:2(8 4) 3:2(r4 8) 2"),
        ("6/8", "3/10 3/10 3/10 3/10 3/10 3/2", "5:3(8 8 8 8 8) 4."),
        ("6/8", "1/6 1/6 1/6 1/2 1/2 3/2", "3:2(16 16 16) 8 8 4."),
        ("6/8", "3/4 3/4 3/2", "8. 8. 4."),
        ("4/4", "5/17 12/17 3", "17:16(16~ 64 8.) 2."),
    ],
)
def test_a_bar_as_it_is_printed(meter, notes, printed):
    assert in_words(notated(lengths(notes, meter))) == printed


@pytest.mark.parametrize(
    ("meter", "notes", "sizes"),
    [
        ("4/4", "1/2 " * 8, [4, 4]),
        ("4/4", "1/4 " * 16, [4, 4, 4, 4]),
        ("4/4", "1/2 1/4 1/4 1/2 1/2 2", [3, 2]),
        ("3/4", "1/2 " * 6, [2, 2, 2]),
        ("6/8", "1/2 " * 6, [3, 3]),
        ("3/8", "1/2 " * 3, [3]),
        ("7/8", "1/2 " * 7, [2, 2, 3]),
        ("4/4", "1/3 " * 12, [3, 3, 3, 3]),
        ("2/4", "1/2 r1/4 1/4 1/4 3/4", [2]),
    ],
)
def test_beams_by_the_beat(meter, notes, sizes):
    words = [s.beams[0] for bar in notated(lengths(notes, meter)) for s in bar.signs if s.beams]
    ends = [place for place, word in enumerate(words, 1) if word == "end"]
    assert [end - start for start, end in zip([0, *ends], ends, strict=False)] == sizes


def test_single_beams_point_into_their_group():
    signs = notated(lengths("3/4 1/4 1/4 3/4 2"))[0].signs
    assert [s.beams for s in signs[:4]] == [
        ("begin",),
        ("end", "backward hook"),
        ("begin", "forward hook"),
        ("end",),
    ]


def test_an_empty_passage_is_a_bar_of_rest():
    (bar,) = notated(Passage((), bar_beats=Fraction(3)))
    assert [(s.note, s.whole_bar, s.length_beats) for s in bar.signs] == [(None, True, 3)]


@given(length=st.fractions(Fraction(1, 9), 5, max_denominator=200))
def test_any_length_is_exact(length):
    signs = [s for bar in notated(Passage((Note(60, Fraction(0), length),))) for s in bar.signs]
    assert sum(printed_beats(s) for s in signs if s.note == 0) == length


def test_what_no_value_is_short_enough_for():
    with pytest.raises(ValueError, match="short"):
        notated(Passage((Note(60, Fraction(0), Fraction(1, 1999)),)))
