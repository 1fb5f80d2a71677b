"""Words of tempo in MusicXML: which are kept, where, and the lines and bar lines that end them."""

from __future__ import annotations

import warnings
from fractions import Fraction

import pytest

from coach.core.score.tempowords import word_of
from coach.files.musicxml.limits import MAX_TEMPO_WORDS
from tests.files.musicxml.making import attributes, bars, note, read

BAR = note("C4") * 4
HALF = note("C4") * 2


def said(text: str, more: str = "") -> str:
    """A direction with words, and `more` of the same direction."""
    words = "".join(f"<words>{one}</words>" for one in text.split("|"))
    return f"<direction><direction-type>{words}</direction-type>{more}</direction>"


def line(kind: str, number: int = 1) -> str:
    return f'<direction-type><dashes type="{kind}" number="{number}"/></direction-type>'


def words_of(score) -> list:
    return [frame.tempo_words for frame in score.frames]


def test_words_of_tempo_with_their_places_and_no_others():
    score = read(
        bars(HALF + said("poco|rit.") + HALF, said("dolce") + BAR + said(" a\ntempo "), BAR)
    )
    assert words_of(score) == [((2, "poco rit."),), (), ((0, "a tempo"),)]


def test_several_parts_say_it_once():
    first = bars(said("rit.") + BAR, BAR)
    second = bars(said("ritard.") + HALF + said("rit.") + HALF, said("a tempo") + BAR)
    score = read(first, second)
    assert words_of(score) == [((0, "rit."), (2, "rit.")), ((0, "a tempo"),)]


def test_a_dashed_line_lasts_to_the_end_of_its_last_bar():
    stop = f"<direction>{line('stop')}</direction>"
    of_dynamics = f"<direction>{line('stop', 2)}</direction>"
    score = read(
        bars(
            said("cresc.", line("start", 2)) + said("rit.", line("start")) + BAR + of_dynamics,
            HALF + stop + HALF,
            stop + BAR,
        )
    )
    assert words_of(score) == [((0, "rit."),), (), ((0, ""),)]


@pytest.mark.parametrize(
    ("style", "double"),
    [("light-light", 1), ("light-heavy", 1), ("heavy-light", 1), ("regular", 0), ("dashed", 0)],
)
def test_double_bars(style, double):
    right = f"<barline><bar-style>{style}</bar-style></barline>"
    left = right.replace("<barline>", '<barline location="left">')
    middle = right.replace("<barline>", '<barline location="middle">')
    score = read(bars(left + BAR + right, middle + BAR, left + BAR, BAR))
    assert [frame.double_bar for frame in score.frames] == [bool(double)] * 2 + [False] * 2


def test_a_bar_full_of_words():
    score = read(bars((note("C4") + said("rit.")) * 500, first=attributes(divisions=200)))
    assert len(score.frames[0].tempo_words) == MAX_TEMPO_WORDS


@pytest.mark.shared
@pytest.mark.parametrize("name", ["Brahms_Op.98_2", "Haydn_104_1"])
def test_text_and_place_are_those_of_music21(shared_dir, name):
    """music21 reads the words and gives them no meaning; it has the pieces of one direction apart,
    as brackets around a sign."""
    import music21

    from coach.files.scorefile import read_score
    from tests.oracle import by_music21

    path = shared_dir / "scores" / "orchestra" / f"{name}.mxl"
    xml = by_music21.score_xml(path)
    text = by_music21.only_parts(xml, [by_music21.part_ids(xml)[0][0]])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        (part,) = music21.converter.parseData(text, format="musicxml").parts
    theirs = {
        (str(measure.number), Fraction(one.offset), " ".join(one.content.split()).rstrip(" []"))
        for measure in part.getElementsByClass("Measure")
        for one in measure.getElementsByClass("TextExpression")
        if word_of(one.content)
    }
    ours = {
        (frame.number, at, text.rstrip(" []"))
        for frame in read_score(path).frames
        for at, text in frame.tempo_words
        if text
    }
    assert ours == theirs
    assert ours
