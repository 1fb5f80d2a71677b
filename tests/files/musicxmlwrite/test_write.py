"""Written MusicXML is valid by the published schema, and readers find the same notes in it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.core.passage import MeterChange, Note, Passage, in_a_row
from coach.core.pitch import Spelled
from coach.core.score.choose import line_of, part_of
from coach.core.score.practise import passage_of, tempo_of
from coach.files.configs import instrument_names, load_instrument
from coach.files.drillshelf import list_drills, load_drill
from coach.files.musicxml import read_musicxml
from coach.files.musicxmlwrite import musicxml_text
from coach.files.musicxmlwrite.accidentals import Accidentals
from tests.conftest import SHARED
from tests.core.notation.making import lengths, passages

HORN = load_instrument("double-horn")
SYLLABLES = st.sampled_from([None, "ta", "ka", "du"])
FINGERINGS = st.sampled_from([None, "0", "12", "T12", "T1+"])


@st.composite
def fingered(draw):
    """A passage with accents, syllables and fingerings, and other fingerings beside them."""
    passage = draw(passages())
    notes = tuple(
        replace(
            note, syllable=draw(SYLLABLES), fingering=draw(FINGERINGS), accent=draw(st.booleans())
        )
        for note in passage.notes
    )
    return replace(passage, notes=notes), draw(st.lists(FINGERINGS, max_size=len(notes)))


@pytest.fixture(scope="session")
def schema():
    """The MusicXML 4.0 schema; what it imports lies beside it."""
    folder = SHARED / "scores" / "xsd"
    if not folder.is_dir():
        pytest.skip("no schema beside the checkout")
    return _schema(folder)


def _schema(folder: Path):
    from lxml import etree

    class Beside(etree.Resolver):
        def resolve(self, system_url, public_id, context):
            return self.resolve_filename(str(folder / system_url.rsplit("/", 1)[-1]), context)

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Beside())
    return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd"), parser))


def check(schema, text):
    from lxml import etree

    schema.assertValid(etree.fromstring(text.encode()))


@pytest.mark.shared
def test_the_passages_of_all_drills_are_valid(schema):
    for row in list_drills():
        drill, instrument = load_drill(row.name)
        for passage in drill.variants[:3]:
            check(schema, musicxml_text(passage, instrument, drill.from_bpm))


@pytest.mark.shared
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(made=fingered(), name=st.sampled_from(instrument_names()), title=st.text(max_size=20))
def test_any_passage_is_valid(schema, made, name, title):
    passage, alternates = made
    text = musicxml_text(
        replace(passage, title=title),
        load_instrument(name),
        72.5,
        alternates=alternates,
        part_name=title,
    )
    check(schema, text)


def read_back(text):
    score = read_musicxml(text.encode(), "written.musicxml")
    return line_of(score, part_of(score, None))


@settings(max_examples=150)
@given(made=fingered(), name=st.sampled_from(["double-horn", "trumpet", "euphonium-treble"]))
def test_our_own_reader_finds_the_same_passage(made, name):
    passage, alternates = made
    instrument = load_instrument(name)
    text = musicxml_text(passage, instrument, 72.5, alternates=alternates)
    line = read_back(text)
    assert line.transposition == instrument.transposition
    assert [fifths for _, fifths in line.keys] == [passage.fifths]
    again = passage_of(line, instrument)
    assert tempo_of(line, again) == pytest.approx(72.5)
    assert (again.bar_beats, again.pulse_beats) == (passage.bar_beats, passage.pulse_beats)
    assert again.bars == passage.bars
    # Of other instruments' fingerings a passage out of a score keeps none.
    own = name == "double-horn"
    expected = passage.notes if own else [replace(n, fingering=None) for n in passage.notes]
    found = again.notes if own else [replace(n, fingering=None) for n in again.notes]
    assert found == expected


def played(text):
    """Onset, length and sounding pitch of the notes as music21 has them."""
    from music21 import converter

    part = converter.parseData(text, format="musicxml").parts[0].toSoundingPitch()
    return [
        (Fraction(n.offset), Fraction(n.duration.quarterLength), n.pitch.midi)
        for n in part.stripTies().flatten().notes
    ]


def sounding(passage):
    return [(n.start_beats, n.length_beats, n.pitch) for n in passage.notes]


@pytest.mark.parametrize(
    "passage",
    [
        lengths("1/3 1/3 1/3 2/3 1/3 r1/5 4/5 1/7 6/7"),
        lengths("3/2 5/2 7 1/4 3/4"),
        lengths("3/10 3/10 3/10 3/10 3/10 3/2 1/2 1", "6/8"),
        replace(
            lengths("4 3 3/2 1/2"), changes=(MeterChange(Fraction(4), Fraction(3), Fraction(1)),)
        ),
        Passage(in_a_row([58, 59, 61, None, 63, 66, 70], Fraction(1, 2), slurred=True), fifths=-5),
    ],
)
@pytest.mark.parametrize("name", ["double-horn", "trumpet", "euphonium-treble", "trombone"])
def test_music21_plays_the_same_notes(passage, name):
    assert played(musicxml_text(passage, load_instrument(name), 60)) == sounding(passage)


def notes_of(text):
    return ET.fromstring(text).findall("part/measure/note")


def test_what_hangs_on_a_note():
    first = Note(60, Fraction(0), Fraction(1), False, "ta", "12", True)
    passage = Passage((first, Note(62, Fraction(1), Fraction(1), True)))
    text = musicxml_text(passage, HORN, 60, alternates=["T12", None])
    one, two, _ = notes_of(text)
    fingerings = one.findall("notations/technical/fingering")
    assert [(f.text, f.get("alternate")) for f in fingerings] == [("12", None), ("T12", "yes")]
    assert one.findtext("lyric[@name='tonguing']/text") == "ta"
    assert one.find("notations/articulations/accent") is not None
    assert one.find("notations/slur").get("type") == "start"
    assert two.find("notations/slur").get("type") == "stop"
    assert two.find("notations/technical") is None


def test_the_same_fingering_is_no_alternate():
    passage = Passage((Note(60, Fraction(0), Fraction(1), fingering="12"),))
    note, *_ = notes_of(musicxml_text(passage, HORN, 60, alternates=["12"]))
    assert [f.text for f in note.iter("fingering")] == ["12"]


def test_a_slur_ends_under_the_last_tied_head():
    passage = Passage(
        (Note(60, Fraction(0), Fraction(6)), Note(62, Fraction(6), Fraction(6), True))
    )
    slurs = [
        [s.get("type") for s in n.findall("notations/slur")]
        for n in notes_of(musicxml_text(passage, HORN, 60))
    ]
    assert slurs == [["start"], [], [], ["stop"]]


def test_an_accidental_holds_to_the_bar_line_and_over_a_tie():
    """Written G F# F# | F# (tied) F# F#."""
    starts = [0, 2, 3, 5, 6, 8]
    notes = tuple(
        Note(pitch - 7, Fraction(start), Fraction(end - start))
        for pitch, start, end in zip([67, 66, 66, 66, 66], starts, starts[1:], strict=False)
    )
    text = musicxml_text(Passage(notes), HORN, 60)
    marks = [note.findtext("accidental") for note in notes_of(text)]
    assert marks == [None, "sharp", None, None, "sharp", None]


@pytest.mark.parametrize(
    ("fifths", "names", "marks"),
    [
        (1, ["F#4", "F4", "F#4", "F5"], [None, "natural", "sharp", "natural"]),
        (-2, ["Bb4", "Eb5", "Ab4", "Ab4"], [None, None, "flat", None]),
        (7, ["B#4", "E#4", "F##4"], [None, None, "double-sharp"]),
        (-7, ["Fb4", "Cb5", "C5"], [None, None, "natural"]),
    ],
)
def test_the_key_holds_on_every_octave(fifths, names, marks):
    held = Accidentals(fifths)
    spelled = [Spelled(name[0], name.count("#") - name.count("b"), int(name[-1])) for name in names]
    assert [held.needed(name) for name in spelled] == marks


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("double-horn", ["-4", "-7", None]),
        ("trumpet", ["-1", "-2", None]),
        ("tenor-horn", ["-5", "-9", None]),
        ("euphonium-treble", ["-1", "-2", "-1"]),
        ("trombone", [None, None, None]),
    ],
)
def test_transpositions(name, expected):
    """Horn in F a fifth down, and so on (MusicXML 4.0, <transpose>)."""
    root = ET.fromstring(musicxml_text(lengths("4"), load_instrument(name), 60))
    tags = ("diatonic", "chromatic", "octave-change")
    assert [root.findtext(f".//transpose/{tag}") for tag in tags] == expected


@pytest.mark.parametrize(
    ("name", "pitch", "sign"),
    [
        ("double-horn", 60, "G"),
        ("double-horn", 40, "F"),
        ("trombone", 50, "F"),
        ("trombone", 68, "C"),
        ("trumpet-c", 60, "G"),
        ("tuba", 40, "F"),
        ("euphonium-treble", 50, "G"),
    ],
)
def test_clefs(name, pitch, sign):
    passage = Passage((Note(pitch, Fraction(0), Fraction(4)),))
    root = ET.fromstring(musicxml_text(passage, load_instrument(name), 60))
    assert root.findtext(".//clef/sign") == sign


def test_the_metronome_counts_clicks():
    root = ET.fromstring(musicxml_text(lengths("3/2 3/2", "6/8"), HORN, 80))
    mark = root.find(".//metronome")
    assert mark is not None
    assert [(e.tag, e.text) for e in mark] == [
        ("beat-unit", "quarter"),
        ("beat-unit-dot", None),
        ("per-minute", "80"),
    ]
    assert root.find(".//sound").get("tempo") == "120"


def test_text_that_xml_cannot_hold_is_left_out():
    passage = replace(lengths("4"), title="a\x00\x0b<&>\ud800b")
    assert ET.fromstring(musicxml_text(passage, HORN, 60)).findtext("work/work-title") == "a<&>b"
