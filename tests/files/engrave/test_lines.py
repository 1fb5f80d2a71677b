"""Engraved lines, measured in verovio's SVG: every fingering and syllable in order and apart."""

from __future__ import annotations

import itertools
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Passage, in_a_row
from coach.errors import CoachError, FileError
from coach.files.drillshelf import load_drill
from coach.files.engrave import music
from coach.files.engrave.lines import balanced, lines_of
from coach.files.engrave.marking import SVG
from coach.files.engrave.measure import fingerings_crowded, syllables_touching, texts_of
from coach.files.engrave.music import Music, Voice, engraved
from coach.files.engrave.prepare import prepared
from coach.files.musicxmlwrite import musicxml_text

A4_TEXT_MM = 186.0
SIXTEENTH = Fraction(1, 4)


def _horn():
    return load_drill("turns")[1]


def _run(bars: int, *, syllables: bool = True) -> Passage:
    """Sixteenths up and down the chromatic scale, fingered T12 and 0 by turns."""
    pitches = [55 + abs(k % 48 - 24) for k in range(16 * bars)]
    notes = [
        replace(
            note,
            fingering=("T12", "0", "13")[k % 3],
            syllable=("ta", "ka")[k % 2] if syllables else None,
        )
        for k, note in enumerate(in_a_row(pitches, SIXTEENTH))
    ]
    return Passage(tuple(notes))


def _job(passage: Passage, **marks: tuple[int, ...]) -> Music:
    return Music((Voice(musicxml_text(passage, _horn(), 120), **marks),), A4_TEXT_MM, 9.2)


def _svgs(job: Music) -> list[str]:
    return [picture.svg for line in lines_of(job) for picture in line]


def _words(svgs: list[str], kind: str) -> list[str]:
    """In reading order: line by line from the left."""
    return [
        text.text
        for svg in svgs
        for text in sorted(texts_of(svg), key=lambda text: text.left)
        if text.kind == kind
    ]


@pytest.fixture(scope="module")
def long_run() -> list[str]:
    return _svgs(_job(_run(8)))


def test_every_fingering_and_syllable_is_there_in_order(long_run):
    notes = _run(8).notes
    assert _words(long_run, "fing") == [note.fingering for note in notes]
    assert _words(long_run, "syl") == [note.syllable for note in notes]


def test_no_text_runs_into_its_neighbour(long_run):
    for svg in long_run:
        placed = sorted(texts_of(svg), key=lambda text: (text.kind, text.left))
        for one, two in itertools.pairwise(placed):
            if one.kind == two.kind and abs(one.y - two.y) < one.size:
                assert one.right < two.left, (one, two)


def test_figures_are_four_millimetres_high(long_run):
    """Figures of bold Libertinus Serif are 0.61 em high (measured with typst); a line's units are
    hundredths of a millimetre."""
    sizes = {text.size for svg in long_run for text in texts_of(svg) if text.kind == "fing"}
    assert min(sizes) * 0.61 / 100 > 4.0


def test_lines_end_at_bar_lines_and_fit_the_width():
    lines = lines_of(_job(_run(3)))
    assert sum(line[0].svg.count('class="measure"') for line in lines) == 3
    assert all(line[0].width_mm <= A4_TEXT_MM for line in lines)


def test_a_bar_that_is_too_full_is_made_smaller():
    crowded = replace(_run(2), bar_beats=Fraction(8))
    svgs = _svgs(_job(crowded))
    assert sum(map(syllables_touching, svgs)) == 0


def test_marks_stand_at_the_fingerings_they_are_for():
    svgs = _svgs(_job(_run(2), underlined=(1, 17), overlined=(3,)))
    rules = [
        (k, "above" if float(rect.get("y")) < y - 0.5 * size else "below")
        for k, (group, y, size) in enumerate(_figure_groups(svgs))
        for rect in group.iter(f"{{{SVG}}}rect")
    ]
    assert rules == [(1, "below"), (3, "above"), (17, "below")]


def _figure_groups(svgs):
    for svg in svgs:
        groups = [g for g in ET.fromstring(svg).iter(f"{{{SVG}}}g") if g.get("class") == "fing"]
        placed = [text for text in texts_of(svg) if text.kind == "fing"]
        yield from ((g, text.y, text.size) for g, text in zip(groups, placed, strict=True))


def test_other_choices_stand_in_brackets_above_the_first():
    passage = _run(1)
    alternates = (None, "T0", *(None,) * 14)
    xml = musicxml_text(passage, _horn(), 120, alternates=alternates)
    (svg,) = _svgs(Music((Voice(xml),), A4_TEXT_MM, 9.2))
    texts = [text for text in texts_of(svg) if text.kind == "fing"]
    first, other = texts[1], texts[2]
    assert other.text == "(T0)"
    assert other.y < first.y - 0.5 * first.size
    assert abs(other.left + other.right - first.left - first.right) < 1


def test_voices_break_alike():
    passage = _run(5)
    plain = replace(passage, notes=tuple(replace(n, fingering="0") for n in passage.notes))
    voices = tuple(Voice(musicxml_text(p, _horn(), 120)) for p in (passage, plain))
    for line in lines_of(Music(voices, A4_TEXT_MM, 9.2)):
        counts = {picture.svg.count('class="measure"') for picture in line}
        assert len(line) == 2
        assert len(counts) == 1


def test_slurs_are_drawn_away_from_the_fingerings():
    slurred = tuple(replace(n, slurred=k % 4 > 0) for k, n in enumerate(_run(1).notes))
    xml = musicxml_text(Passage(slurred), _horn(), 120)
    starts = [s for s in ET.fromstring(prepared(xml)).iter("slur") if s.get("type") == "start"]
    assert len(starts) == 4
    assert {slur.get("placement") for slur in starts} == {"below"}


def test_bars_of_rest_become_one_rest():
    notes = _run(1, syllables=False).notes
    late = tuple(replace(n, start_beats=n.start_beats + 20, fingering=None) for n in notes)
    (svg,) = _svgs(_job(Passage(late)))
    assert svg.count('class="multiRest"') == 1
    assert svg.count('class="measure"') == 2


def test_the_same_text_gives_the_same_picture(long_run):
    assert _svgs(_job(_run(8))) == long_run


def test_crowding_counts_what_comes_too_near():
    (svg,) = _svgs(_job(_run(1)))
    assert fingerings_crowded(svg) == 0
    assert fingerings_crowded(svg.replace(">0<", ">1234567<")) > 0


@given(st.lists(st.integers(1, 9), min_size=1, max_size=12))
def test_balancing_keeps_all_bars_and_leaves_none_alone_that_could_have_company(counts):
    lines = balanced(counts)
    assert sum(lines) == sum(counts)
    assert len(lines) == len(counts)
    if len(counts) > 1 and lines[-1] == 1:
        assert counts[-2] <= 2


@pytest.mark.parametrize("xml", ["", "<", "not a score", "\x00"])
def test_what_cannot_be_engraved_is_one_sentence(xml):
    with pytest.raises(FileError, match=r"^mine: this can't be engraved; .*\.$"):
        engraved([Music((Voice(xml),), A4_TEXT_MM, 9.2)], "mine")


def _instead(monkeypatch, code: str) -> None:
    """Another process in the place of the one that engraves."""
    run = music.subprocess.run

    def other(command, **options):
        return run([sys.executable, "-c", code], **options)

    monkeypatch.setattr(music.subprocess, "run", other)


def test_a_crash_is_one_sentence(monkeypatch):
    _instead(monkeypatch, "import os; os.abort()")
    with pytest.raises(FileError, match="can't be engraved"):
        engraved([_job(_run(1))], "mine")


def test_running_on_is_one_sentence(monkeypatch):
    _instead(monkeypatch, "import time; time.sleep(600)")
    with pytest.raises(FileError, match=r"mine: engraving it took longer than 0.2 s; take fewer"):
        engraved([_job(_run(1))], "mine", time_limit_s=0.2)


def test_without_the_package_it_says_how_to_get_it(monkeypatch):
    monkeypatch.setattr(music, "find_spec", lambda _: None)
    with pytest.raises(CoachError, match="python -m pip install verovio"):
        engraved([], "mine")
