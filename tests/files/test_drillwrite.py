"""Written drills come back from the reader as they were."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.core.passage import MeterChange, Note, Passage, in_a_row
from coach.core.patterns.layout import pulse_of_meter
from coach.errors import CoachError, FileError
from coach.files.configs import load_instrument
from coach.files.drillfile import read_drill
from coach.files.drillshelf import load_drill
from coach.files.drillwrite import Heading, drill_path, drill_text, meter_of, write_drill

HEADING = Heading("A passage", "Learned by ear.", "4/4", "C", 60, 120)
KEYS = {"C": 0, "D": 2, "Eb": -3, "G minor": -2, "B": 5}


@st.composite
def passages(draw, low, high):
    notes, at = [], draw(st.integers(0, 40)) * Fraction(1, 4)
    for _ in range(draw(st.integers(1, 25))):
        length = draw(st.integers(1, 24)) * draw(st.sampled_from([Fraction(1, 4), Fraction(1, 6)]))
        pitch = draw(st.integers(low, high))
        joins = bool(notes) and notes[-1].end_beats == at and notes[-1].pitch != pitch
        slurred = joins and draw(st.booleans())
        syllable = draw(st.sampled_from([None, "ta", "ka"]))
        fingering = draw(st.sampled_from([None, "T12", "0"]))
        notes.append(Note(pitch, at, length, slurred, syllable, fingering))
        at += length + draw(st.sampled_from([0, 0, 1, 35]))
    return tuple(notes)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), key=st.sampled_from(list(KEYS)), title=st.text(max_size=30))
@pytest.mark.parametrize("name", ["double-horn", "trumpet", "tuba"])
def test_a_passage_comes_back(tmp_path, name, data, key, title):
    instrument = load_instrument(name)
    notes = data.draw(passages(instrument.lowest, instrument.highest))
    passage = Passage(notes, fifths=KEYS[key])
    heading = Heading(title, 'quotes " and \\ and \n lines', "4/4", key, 66.5, 140)
    path = tmp_path / "learned.toml"
    write_drill(path, drill_text(passage, instrument, heading), replace=True)
    drill, player = load_drill(path)
    assert drill.variants == (passage,)
    assert player == instrument
    assert (drill.from_bpm, drill.to_bpm) == (66.5, 140)


def test_compound_meter_comes_back(tmp_path):
    passage = Passage((Note(60, Fraction(0), Fraction(3, 2)),), "", Fraction(3), Fraction(3, 2), -1)
    heading = Heading("x", "", "6/8", "F", 60, 90)
    path = tmp_path / "x.toml"
    write_drill(path, drill_text(passage, load_instrument("double-horn"), heading))
    assert load_drill(path)[0].variants == (passage,)


CUTS = st.sampled_from([Fraction(1, 4), Fraction(1, 28), Fraction(1, 36), Fraction(1, 160)])
METERS = st.sampled_from([(4, 4), (3, 4), (6, 8), (5, 8), (2, 2), (9, 16)])


@st.composite
def changing(draw):
    """A passage over several meters, with notes as short as in real scores."""
    notes, at = [], Fraction(0)
    for pitch in draw(st.lists(st.integers(50, 70), min_size=1, max_size=12)):
        length = draw(st.integers(1, 30)) * draw(CUTS)
        notes.append(Note(pitch, at, length))
        at += length
    (count, unit), *later = draw(st.lists(METERS, min_size=1, max_size=4))
    first = Passage(
        tuple(notes), "", Fraction(4 * count, unit), pulse_of_meter(count, unit), fifths=-1
    )
    start, bar, changes = Fraction(0), first.bar_beats, []
    for count, unit in later:
        start += draw(st.integers(1, 3)) * bar
        bar = Fraction(4 * count, unit)
        changes.append(MeterChange(start, bar, pulse_of_meter(count, unit)))
    return replace(first, changes=tuple(changes))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(passage=changing())
def test_meters_that_change_and_short_notes_come_back(tmp_path, passage):
    path = tmp_path / "x.toml"
    heading = replace(HEADING, meter=meter_of(passage), key="F")
    write_drill(path, drill_text(passage, load_instrument("double-horn"), heading), replace=True)
    assert load_drill(path)[0].variants == (passage,)


def test_a_later_meter_is_named_by_its_bar():
    notes = (Note(60, Fraction(0), Fraction(17)),)
    changes = (MeterChange(Fraction(16), Fraction(3), Fraction(1)),)
    text = drill_text(Passage(notes, changes=changes), load_instrument("double-horn"), HEADING)
    assert 'meters = ["5: 3/4"]' in text


@pytest.mark.parametrize(
    "meters", ['["1: 3/4"]', '["5: 3/4", "5: 4/4"]', '["5"]', '["x: 3/4"]', '["5: 3/5"]', "3"]
)
def test_meters_that_are_none(tmp_path, meters):
    path = tmp_path / "x.toml"
    path.write_text(
        f'tempo = {{from = 60, to = 90}}\npassage.notes = ["G4 1/4"]\npassage.meters = {meters}\n'
    )
    with pytest.raises(FileError, match="meters"):
        load_drill(path)


@pytest.mark.parametrize("length", [Fraction(33), Fraction(1, 300), Fraction(10007, 10009)])
def test_a_length_that_drill_files_do_not_hold_is_not_written(length):
    passage = Passage((Note(60, Fraction(0), length),))
    with pytest.raises(CoachError, match="can't be written"):
        drill_text(passage, load_instrument("double-horn"), HEADING)


def test_a_drill_is_not_overwritten_by_accident(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("kept")
    with pytest.raises(FileError, match="already"):
        write_drill(path, "new")
    assert path.read_text() == "kept"


def test_names_and_paths(tmp_path):
    assert drill_path("slow-run").name == "slow-run.toml"
    assert drill_path("slow-run").parent.name == "drills"
    assert drill_path(str(tmp_path / "Any Name.toml")) == tmp_path / "Any Name.toml"
    assert drill_path("~nobody-of-this-name/x.toml").name == "x.toml"


@pytest.mark.parametrize("name", ["", "../x", "a/b", "Ä", "a b", "-x", "con", "lpt1"])
def test_names_that_are_none(name):
    with pytest.raises(FileError, match="no name for a drill"):
        drill_path(name)


def test_an_empty_passage_is_refused():
    with pytest.raises(ValueError, match="no notes"):
        drill_text(Passage(()), load_instrument("double-horn"), HEADING)


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="can't be written"):
        write_drill(tmp_path / "file" / "x.toml", "text")


def test_bars_keep_their_numbers(tmp_path):
    horn = load_instrument("double-horn")
    change = MeterChange(Fraction(8), Fraction(3), Fraction(1))
    notes = in_a_row([60, 62, 64, 65] * 3, Fraction(1))
    passage = Passage(notes, changes=(change,), first_bar=41)
    text = drill_text(passage, horn, Heading("Bars", "", "4/4", "C", 60, 90))
    assert 'first_bar = 41\nmeters = ["43: 3/4"]' in text
    path = tmp_path / "bars.toml"
    path.write_text(text, encoding="utf-8")
    assert read_drill(path)[0].variants[0] == passage
