"""Heads of notes found again in what verovio drew."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from coach.core.passage import Note, Passage, in_a_row
from coach.files.drillshelf import load_drill
from coach.files.engrave.heads import heads_mm
from coach.files.engrave.lines import lines_of
from coach.files.engrave.music import Music, Voice
from coach.files.musicxmlwrite import musicxml_text


def _heads(passage: Passage):
    xml = musicxml_text(passage, load_drill("turns")[1], 100)
    pictures = [line[0] for line in lines_of(Music((Voice(xml),), 180.0, 8.0))]
    return heads_mm(xml, pictures), pictures


def test_every_note_has_its_head_from_left_to_right():
    found, pictures = _heads(Passage(in_a_row([55 + k % 13 for k in range(64)], Fraction(1, 4))))
    assert len(found) > 1
    assert [index for line in found for index in line] == list(range(64))
    for line, picture in zip(found, pictures, strict=True):
        places = list(line.values())
        assert all(b - a > 2 for a, b in pairwise(places))
        assert 8 < places[0] < places[-1] < picture.width_mm


def test_a_note_tied_over_the_bar_line_has_one_place():
    long = Note(60, Fraction(3), Fraction(2))
    others = in_a_row([62, 64, 65], Fraction(1))
    later = replace(others[0], start_beats=Fraction(6))
    (line,), _ = _heads(Passage((*others, long, later)))
    assert list(line) == [0, 1, 2, 3, 4]
    quarters = line[1] - line[0]
    assert line[4] - line[3] > 1.5 * quarters


def test_whole_notes_are_wider():
    """Their middle lies further right of where they begin; the first stands after clef and meter
    in both lines."""
    places = [_heads(Passage(in_a_row([60], Fraction(beats))))[0][0][0] for beats in (1, 4)]
    assert places[1] > places[0]


def test_heads_that_are_missing_are_no_heads_of_others():
    _, pictures = _heads(Passage(in_a_row([60, 62, 64], Fraction(1))))
    xml = musicxml_text(Passage(in_a_row([60, 62], Fraction(1))), load_drill("turns")[1], 100)
    with pytest.raises(ValueError, match="missing"):
        heads_mm(xml, pictures)
