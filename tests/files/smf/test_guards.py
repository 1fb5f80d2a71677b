"""Broken and hostile files: a score or one FileError, soon."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.passage import Passage, in_a_row
from coach.core.score.model import Score
from coach.errors import FileError
from coach.files.configs import load_instrument
from coach.files.smf import read_smf, smf_bytes
from coach.files.smf.bars import MOST_BARS
from coach.files.smf.events import MOST_MARKS, MOST_NOTES
from tests.files.smf.making import END, chunk, line, meta, number, played, song
from tests.files.smf.seconds import timed_notes

SCALE = line((0, 480, 60), (480, 960, 62), (960, 1440, 64))
OURS = smf_bytes(
    Passage(in_a_row([60, 62, None, 64], Fraction(1, 3), slurred=True), "Study"),
    load_instrument("double-horn"),
    90,
)


def read_or_refuse(data):
    """Notes or the one error from both readers; anything else fails the test."""
    places = ["made.mid"]
    for read in (read_smf, timed_notes):
        try:
            read(data, "made.mid")
        except FileError as error:
            places.append(error.where)
    assert all(place.startswith("made.mid") for place in places)


@pytest.mark.parametrize("whole", [SCALE, OURS])
def test_cut_off_anywhere(whole):
    for end in range(len(whole)):
        read_or_refuse(whole[:end])


@given(st.binary(max_size=200))
def test_any_bytes(data):
    read_or_refuse(data)
    read_or_refuse(song(data))


@settings(max_examples=300)
@given(
    st.sampled_from([SCALE, OURS]),
    st.lists(st.tuples(st.integers(0, 10_000), st.binary(max_size=4)), min_size=1, max_size=5),
)
def test_any_change_of_a_file(whole, changes):
    for place, put in changes:
        at = place % len(whole)
        whole = whole[:at] + put + whole[at + max(len(put), 1) :]
    read_or_refuse(whole)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04" + bytes(40), "no MIDI file"),
        (b"MThd\0\0", "ends inside its header"),
        (song(END, division=0), "a quarter note has 0 ticks"),
        (song(END, division=0x8028), "128 frames a second"),
        (song(END, division=0xE700), "25 frames a second of 0 ticks"),
        (song(END, division=0xFF01), "1 frames a second"),
        (song(END, kind=3), "format 3"),
        (song(), "no notes"),
        (song(b""), "no notes"),
        (song(b"", promised=65_535), "no notes"),
        (b"RIFF" + bytes(4) + b"RMID", "holds no MIDI data"),
        (bytes(9 << 20), "9 MB"),
    ],
)
def test_the_error_names_what_is_wrong(data, what):
    with pytest.raises(FileError) as caught:
        read_smf(data, "made.mid")
    assert what in str(caught.value)


@pytest.mark.parametrize(
    ("events", "what", "byte"),
    [
        (b"\x00\x3c\x40", "3C stands where an event must begin", 23),
        (b"\x00\x90\x3c\xff", "FF stands where a value up to 7F must stand", 25),
        (b"\x00\x90\x3c", "ends in the middle of an event", 25),
        (b"\xff\xff\xff\xff\x7f", "more than four bytes", 22),
        (b"\x00\xf0\xff\xff\xff\x7f\x01", "268,435,455 bytes", 28),
        (b"\x00\xff\x01\x05ab", "says that it has 5 bytes", 26),
    ],
)
def test_the_error_names_track_and_byte(events, what, byte):
    data = song(END, events)
    with pytest.raises(FileError) as caught:
        read_smf(data, "made.mid")
    assert what in caught.value.what
    # The second track's events begin 12 bytes later than a first one's would.
    assert caught.value.where == f"made.mid, track 2, byte {byte + 12}"


def test_a_promise_of_65535_tracks_costs_nothing():
    score = read_smf(song(played((0, 480, 60)), promised=65_535), "made.mid")
    assert score.remarks == ("The file promises 65,535 tracks and has 1.",)


def test_a_million_notes_are_refused_by_name():
    dense = b"\x00\x90\x3c\x01" + b"\x01\x3c\x00\x01\x3c\x01" * 1_000_000
    with pytest.raises(FileError, match=f"more than {MOST_NOTES:,} notes"):
        read_smf(song(dense + END), "made.mid")


def test_marks_without_end_are_refused_by_name():
    tempi = b"\x01\xff\x51\x03\x07\xa1\x20" * (MOST_MARKS + 1)
    with pytest.raises(FileError, match=f"more than {MOST_MARKS:,} tempi"):
        read_smf(song(tempi + END), "made.mid")


@pytest.mark.parametrize("division", [1, 24, 480])
def test_a_note_after_a_million_bars_is_refused_by_name(division):
    far = (1 << 28) - 1
    with pytest.raises(FileError, match=f"beyond {MOST_BARS:,} bars"):
        read_smf(line((far, far + 10, 60), division=division), "made.mid")


def test_silence_of_a_million_bars_is_left_out():
    quiet = played((0, 480, 60))[: -len(END)] + number((1 << 28) - 1) + END[1:]
    assert len(read_smf(song(quiet), "made.mid").frames) == MOST_BARS


def test_chords_over_thousands_of_bars_are_refused_by_name():
    held = played(*((0, 39_000, pitch) for pitch in range(24, 108)))
    with pytest.raises(FileError, match="printed notes"):
        read_smf(song(held, division=1), "made.mid")


def test_too_many_parts_are_refused_by_name():
    with pytest.raises(FileError, match="257 parts"):
        read_smf(song(*[played((0, 480, 60))] * 257), "made.mid")


@pytest.mark.parametrize("pad", [b"", b"LIST\x03\x00\x00\x00abc\x00"])
def test_a_file_in_riff_wrapping_is_read(pad):
    body = pad + b"data" + len(SCALE).to_bytes(4, "little") + SCALE
    wrapped = b"RIFF" + (len(body) + 4).to_bytes(4, "little") + b"RMID" + body
    assert read_smf(wrapped, "x").parts == read_smf(SCALE, "x").parts


@pytest.mark.parametrize("length", [0, 5, 20, 21, 10_000, 0xFFFFFFFF])
def test_a_track_with_a_wrong_length_is_read_by_its_end_event(length):
    first, second = played((0, 480, 60), (480, 960, 62)), played((0, 480, 64))
    data = song(promised=2) + chunk(first, length=length) + chunk(second)
    score = read_smf(data, "x")
    assert [len(part.bars[0].heads) for part in score.parts] == [2, 1]
    assert "not as long as it says" in score.remarks[0] or length == len(first)


def test_a_header_with_more_in_it_and_chunks_of_other_kinds_are_read():
    longer = b"MThd" + bytes((0, 0, 0, 8, 0, 1, 0, 1, 1, 0xE0, 7, 7))
    data = longer + chunk(b"abc", b"XFIH") + chunk(played((0, 480, 60))) + b"\x2a"
    score = read_smf(data, "x")
    assert len(score.parts[0].bars[0].heads) == 1
    assert score.remarks == ("A chunk at byte 16 is no track and was skipped.",)


def test_a_track_without_an_end_event_is_read():
    score = read_smf(song(played((0, 480, 60))[: -len(END)]), "x")
    assert isinstance(score, Score)
    assert score.remarks == ("Tracks without an end event: 1.",)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Übung Ⅱ".encode(), "Übung Ⅱ"),
        ("Étude".encode("latin-1"), "Étude"),
        (b"\xff\xfeA\x00", "ÿþA"),
        (b"two\nlines\x00\x1b[2J", "two lines [2J"),
        (b"x" * 5000, "x" * 200),
    ],
)
def test_names_in_any_encoding(name, shown):
    score = read_smf(song(meta(0x03, name) + played((0, 480, 60)), kind=0), "x")
    assert score.title == score.parts[0].name == shown


@pytest.mark.parametrize(
    ("event", "remark"),
    [
        (meta(0x51, b"\0\0\0"), "Tempo marks that make no sense were skipped: 1."),
        (meta(0x51, b"\0\0\1"), "Tempo marks beyond 1200 were left out: 1."),
        (meta(0x58, b"\0\2\x18\x08"), "Time signatures that make no sense were skipped: 1."),
        (meta(0x58, b"\4\xff\x18\x08"), "Time signatures that make no sense were skipped: 1."),
        (meta(0x59, b"\x0c\0"), "Key signatures that make no sense were skipped: 1."),
        (b"\0\x80\x3c\0", "Ends of notes that had not begun were skipped: 1."),
        (b"\0\x91\x3c\x40\0\x81\x3c\x40", "Notes without any length were left out: 1."),
        (b"\0\xf4", "Messages that belong on a cable were skipped: 1."),
    ],
)
def test_events_without_sense_are_skipped_with_a_remark(event, remark):
    score = read_smf(song(event + played((0, 480, 60))), "x")
    assert score.remarks == (remark,)
    assert score.frames[0].tempos == ()
    assert len(score.parts[0].bars[0].heads) == 1


def test_the_remarks_on_a_broken_file_have_an_end():
    score = read_smf(song(promised=1) + chunk(b"", b"Junk") * 500 + chunk(played((0, 9, 60))), "x")
    assert len(score.remarks) == 21
    assert score.remarks[-1] == "And 480 remarks like these."
