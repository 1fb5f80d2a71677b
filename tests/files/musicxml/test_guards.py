"""What is no score, or would do harm: one error each, with the reason and the place."""

from __future__ import annotations

import contextlib
import re
import struct
import warnings
import zipfile
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.score.model import Score
from coach.errors import FileError
from coach.files.musicxml import limits, read_musicxml
from tests.files.musicxml.making import (
    CONTAINER,
    attributes,
    bars,
    grace,
    heads,
    note,
    partwise,
    read,
    zipped,
)

PLAIN = partwise(bars(note("C4")))
LAUGHS = b"""<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "ha">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>
<score-partwise>&c;</score-partwise>"""
FOREIGN = b"""<!DOCTYPE score-partwise [<!ENTITY f SYSTEM "file:///etc/passwd">]>
<score-partwise>&f;</score-partwise>"""
PARAMETER = b"""<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM "http://localhost/x.dtd"> %p;]>
<score-partwise/>"""
USUAL = (
    b'<?xml version="1.0" encoding="UTF-8"?><!DOCTYPE score-partwise PUBLIC '
    b'"-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://localhost/never-read.dtd">'
)


def refused(data: bytes) -> str:
    with pytest.raises(FileError) as caught:
        read_musicxml(data, "made.xml")
    assert caught.value.where.startswith("made.xml")
    return str(caught.value)


@pytest.mark.parametrize("data", [LAUGHS, FOREIGN, PARAMETER])
def test_entities_are_refused(data):
    assert "entities" in refused(data)
    assert "entities" in refused(data.decode().encode("utf-16"))


def test_entities_in_the_list_of_contents_are_refused():
    container = FOREIGN.replace(b"score-partwise", b"container")
    assert "entities" in refused(zipped({"META-INF/container.xml": container, "score.xml": PLAIN}))


def test_the_usual_doctype_passes_and_is_not_followed():
    assert len(heads(read_musicxml(USUAL + PLAIN, "made.xml"))) == 1


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        (b"MThd\0\0\0\6", "MIDI"),
        (b"X:1\nK:C\nCDE|", "ABC"),
        (b"%PDF-1.7", "PDF"),
        (b"<!DOCTYPE html><html><br></html>", "web page"),
        (b"<html></html>", "web page"),
        (b"<opus/>", "list of scores"),
        (b"<museScore/>", "a notation program's own file, unpacked; export it"),
        (b"<recipe/>", "<recipe>"),
        (b"\0\1\2\3", "not MusicXML"),
        (b"<score-partwise>", "cut off"),
        (b"<score-partwise/>", "no bars"),
        (PLAIN[:-30], "cut off"),
        (b'<?xml version="1.0" encoding="klingon"?><score-partwise/>', "encoding"),
        (b'<?xml version="1.0" encoding="shift_jis"?><score-partwise/>', "encoding"),
    ],
)
def test_what_is_no_score_is_told_by_its_look(data, word):
    assert word in refused(data)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"])
def test_encodings(encoding):
    name = {"utf-8-sig": "utf-8", "latin-1": "iso-8859-1", "cp1252": "windows-1252"}
    text = partwise(bars(note("C4")), names=("Flügelhorn",)).decode()
    declared = f'<?xml version="1.0" encoding="{name.get(encoding, encoding)}"?>{text}'
    score = read_musicxml(declared.encode(encoding), "made.xml")
    assert score.parts[0].name == "Flügelhorn"


def test_deep_nesting_is_refused():
    assert "nested" in refused(b"<score-partwise>" + b"<x>" * 100_000)
    depth = limits.MAX_DEPTH
    deep = partwise(bars(note("C4") + "<x>" * depth + "</x>" * depth))
    assert "nested" in refused(deep)


def test_a_crowded_bar_is_refused(monkeypatch):
    monkeypatch.setattr(limits, "MAX_ELEMENTS", 30)
    assert "crowded" in refused(partwise(bars(note("C4") * 20)))
    assert len(read(bars(*[note("C4")] * 20)).frames) == 20


def test_notes_and_bars_are_counted(monkeypatch):
    monkeypatch.setattr(limits, "MAX_NOTES", 10)
    assert "more than 10 notes" in refused(partwise(bars(*[note("C4")] * 11)))
    monkeypatch.setattr(limits, "MAX_CELLS", 8)
    assert "more bars and parts" in refused(partwise(bars(*[note("C4")] * 9)))
    few = partwise(bars(*[note("C4")] * 3), bars(note("C4")), bars(note("C4")))
    assert "more bars and parts" in refused(few)  # three bars of three parts


def test_a_bar_does_not_change_without_end():
    clef = "<attributes><clef><sign>F</sign></clef></attributes>"
    assert "without end" in refused(partwise(bars((note("C4") + clef) * 1_100)))


@pytest.mark.parametrize("divisions", ["0", "-1", "1000000000", "nan", "1e9", ""])
def test_absurd_divisions(divisions):
    error = refused(partwise(bars(note("C4"), first=attributes(divisions=divisions))))
    assert "divisions" in error
    assert "part Horn, bar 1" in error


@pytest.mark.parametrize("duration", ["-1", "99999999999", "x", "", "1/0", "inf"])
def test_absurd_durations(duration):
    error = refused(partwise(bars(note("C4"), note("C4", duration))))
    assert "duration" in error
    assert "part Horn, bar 2" in error


def test_a_bar_is_no_longer_than_the_limit():
    assert "longer" in refused(partwise(bars(note("C4", 9999) * 3)))


def test_durations_that_fit_nothing_are_refused():
    primes = (999_983, 999_979, 999_961, 999_959)
    content = "".join(attributes(divisions=p) + note("C4") for p in primes)
    assert "do not fit together" in refused(partwise(bars(content)))


def test_a_note_of_no_length_is_taken_as_a_grace_note():
    score = read(bars(note("C4", 0) + note("D4", 4)))
    assert [h.grace for h in heads(score)] == [True, False]
    assert score.remarks[0].startswith("Notes without any length")


def test_a_note_that_says_nothing_of_its_length_is_refused():
    bare = note("C4").replace("<duration>1</duration>", "")
    assert "neither a duration nor a note value" in refused(partwise(bars(bare)))


@pytest.mark.parametrize(
    ("inside", "word"),
    [
        ("<key><fifths>99</fifths></key>", "key"),
        ("<transpose><chromatic>999</chromatic></transpose>", "transposition"),
        ("<transpose><chromatic>0</chromatic><octave-change>9</octave-change></transpose>", "tran"),
        ("<time><beats>0</beats><beat-type>4</beat-type></time>", "time signature"),
        ("<time><beats>4</beats><beat-type>5</beat-type></time>", "time signature"),
        ("<time><beats>four</beats><beat-type>4</beat-type></time>", "time signature"),
        ("<time><beats>²</beats><beat-type>4</beat-type></time>", "time signature"),
    ],
)
def test_absurd_attributes(inside, word):
    assert word in refused(partwise(bars(note("C4"), first=attributes(inside))))


@pytest.mark.parametrize("pitch", ["H4", "C99", "Cx", "C"])
def test_what_is_no_pitch(pitch):
    text = f"<note><pitch><step>{pitch[0]}</step><octave>{pitch[1:]}</octave></pitch>"
    error = refused(partwise(bars(text + "<duration>1</duration></note>")))
    assert "is no pitch" in error


def test_sounding_outside_of_all_pitches():
    low = "<transpose><chromatic>-20</chromatic></transpose>"
    assert "MIDI -8" in refused(partwise(bars(note("C0"), first=attributes(low))))


def test_a_million_repeats_are_cut():
    repeat = '<barline><repeat direction="backward" times="1000000"/></barline>'
    score = read(bars(note("C4") + repeat))
    assert score.frames[0].signs.plays == limits.MAX_PLAYS
    assert "cut" in score.remarks[0]


def test_a_zipped_score():
    data = zipped({"META-INF/container.xml": CONTAINER, "score.xml": PLAIN})
    assert read_musicxml(data, "made.mxl") == read_musicxml(PLAIN, "made.xml")
    alone = read_musicxml(zipped({"mine.musicxml": PLAIN}), "made.mxl")
    assert heads(alone) == heads(read_musicxml(PLAIN, "made.xml"))
    assert "list of contents" in alone.remarks[0]


@pytest.mark.parametrize(
    "name", ["../score.xml", "/score.xml", "a\\score.xml", "not-there.xml", "x/../score.xml", ""]
)
def test_names_that_lead_out_of_the_archive(name):
    container = CONTAINER.replace(b"score.xml", name.encode())
    data = zipped({"META-INF/container.xml": container, "score.xml": PLAIN, name or "n": PLAIN})
    if name == "not-there.xml":
        data = zipped({"META-INF/container.xml": container, "score.xml": PLAIN})
    assert "not in it" in refused(data)


def test_other_files_of_the_list_are_passed_over():
    pdf = b'<rootfile full-path="score.pdf" media-type="application/pdf"/><rootfile '
    container = CONTAINER.replace(b"<rootfile ", pdf, 1)
    data = zipped({"META-INF/container.xml": container, "score.pdf": b"%PDF", "score.xml": PLAIN})
    assert len(heads(read_musicxml(data, "made.mxl"))) == 1


def test_archives_without_a_score():
    assert "does not say which" in refused(zipped({"a.xml": PLAIN, "b.xml": PLAIN}))
    assert "names no MusicXML" in refused(zipped({"META-INF/container.xml": b"<container/>"}))
    inner = zipped({"score.xml": PLAIN})
    nested = {"META-INF/container.xml": CONTAINER, "score.xml": inner}
    assert "archive itself" in refused(zipped(nested))


def test_two_members_of_one_name():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        out = BytesIO()
        with zipfile.ZipFile(out, "w") as made:
            for name in ("META-INF/container.xml", "score.xml", "score.xml"):
                made.writestr(name, CONTAINER if "META" in name else PLAIN)
    assert "two files" in refused(out.getvalue())


def test_locked_and_oddly_packed_members():
    data = zipped({"META-INF/container.xml": CONTAINER, "score.xml": PLAIN}, zipfile.ZIP_STORED)
    central = data.rindex(b"PK\1\2")
    locked = bytearray(data)
    locked[central + 8] |= 1
    assert "password" in refused(bytes(locked))
    odd = bytearray(data)
    struct.pack_into("<H", odd, central + 10, 99)
    assert "packed" in refused(bytes(odd))
    assert "packed" in refused(
        zipped({"META-INF/container.xml": CONTAINER, "score.xml": PLAIN}, zipfile.ZIP_LZMA)
    )


def test_damaged_archives():
    data = zipped({"META-INF/container.xml": CONTAINER, "score.xml": PLAIN}, zipfile.ZIP_STORED)
    for end in range(2, len(data), 37):
        refused(data[:end])
    assert "damaged" in refused(data.replace(b"<step>C", b"<step>D"))  # the checksum is wrong


def test_bombs_are_counted_while_they_unpack(monkeypatch):
    bomb = PLAIN.replace(b"</score-partwise>", b" " * 8_000_000 + b"</score-partwise>")
    members = {"META-INF/container.xml": CONTAINER, "score.xml": bomb}
    assert "far more than any score" in refused(zipped(members))
    monkeypatch.setattr(limits, "MAX_BYTES", 1_000_000)
    assert "more than 1 MB" in refused(zipped(members, zipfile.ZIP_STORED))


def test_a_list_of_contents_has_its_limit():
    long = CONTAINER + b" " * 2_000_000
    assert "more than 1 MB" in refused(
        zipped({"META-INF/container.xml": long, "score.xml": PLAIN}, zipfile.ZIP_STORED)
    )


def test_too_many_members():
    many = {f"{n}.png": b"" for n in range(limits.MAX_MEMBERS + 1)}
    assert "no score" in refused(zipped(many))


_METER = "<time><beats>4</beats><beat-type>4</beat-type></time>"
_HORN = (
    "<key><fifths>1</fifths></key>" + _METER + "<transpose><chromatic>-7</chromatic></transpose>"
)
RICH = partwise(
    bars(
        note("C4", 8, "<tie type='start'/><voice>1</voice>")
        + grace("G4")
        + note("D4", 8, "<notations><slur type='start'/></notations>")
        + "<backup><duration>16</duration></backup>"
        + note("E4", 16, "<voice>2</voice><type>whole</type>"),
        '<barline location="left"><repeat direction="forward"/></barline>'
        "<direction><direction-type><words>D.C. al Fine</words></direction-type>"
        '<offset>-1</offset><sound tempo="90"/></direction>'
        + note("F#4", 16, "<notations><slur type='stop'/></notations>")
        + '<barline><ending number="1" type="stop"/><repeat direction="backward"/></barline>',
        first=attributes(_HORN, 4),
    )
)


def _reads_or_refuses(data: bytes) -> None:
    """Anything but a score and a FileError fails the test by itself."""
    with contextlib.suppress(FileError):
        assert isinstance(read_musicxml(data, "made.xml"), Score)


@settings(max_examples=300)
@given(
    st.lists(
        st.tuples(st.integers(0, len(RICH) - 1), st.integers(0, 3), st.binary(max_size=4)),
        max_size=6,
    )
)
def test_changed_bytes_give_a_score_or_one_error(changes):
    data = bytearray(RICH)
    for at, length, new in changes:
        data[at : at + length] = new
    _reads_or_refuses(bytes(data))


_ODD = st.sampled_from(["", "0", "-1", "1.5", "1e99", "9" * 30, "NaN", "x", "٣", "4+", "1/0"])


@settings(max_examples=300)
@given(st.lists(st.tuples(st.integers(0, 200), _ODD), min_size=1, max_size=3))
def test_odd_numbers_give_a_score_or_one_error(changes):
    data = RICH.decode()
    for which, odd in changes:
        numbers = list(re.finditer(r"(?<=[>'\"])-?\d+(?=[<'\"])", data))
        found = numbers[which % len(numbers)]
        data = data[: found.start()] + odd + data[found.end() :]
    _reads_or_refuses(data.encode())


@settings(max_examples=200)
@given(st.data())
def test_changed_archives_give_a_score_or_one_error(data):
    made = bytearray(zipped({"META-INF/container.xml": CONTAINER, "score.xml": RICH}))
    for _ in range(data.draw(st.integers(1, 4))):
        made[data.draw(st.integers(2, len(made) - 1))] = data.draw(st.integers(0, 255))
    _reads_or_refuses(bytes(made))
