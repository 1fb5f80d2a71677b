"""The SMF test suite (MIT): every file as its name and text say."""

from __future__ import annotations

import pytest

from coach.errors import FileError
from coach.files.smf import read_smf
from tests.files.smf.seconds import timed_notes

C_MAJOR = [60, 62, 64, 65, 67, 69, 71, 72]
# "You must hear a C-Major scale", one quarter note each.
SCALES = [
    "corrupt-file-extra-byte",
    *(f"illegal-message-{name}" for name in ("f1-xx", "f3-xx", "f5", "f8", "fa", "fc", "fe")),
    "non-midi-track",
    "running-status-sysex",
    "smpte-offset",
    "vlq-3-byte",
]
NO_NOTES = [
    "control-7c-omni-mode-off",
    "control-7e-mono-mode-on",
    "silence-end-of-track",
    "sysex-7e-09-01-gm1-enable",
    "sysex-7e-09-03-gm2-enable",
]
pytestmark = pytest.mark.shared


@pytest.fixture
def suite(shared_dir):
    def read(name):
        return read_smf((shared_dir / f"scores/smf-tests/test-{name}.mid").read_bytes(), name)

    return read


def pitches(part):
    return [head.sounding for bar in part.bars for head in bar.heads if not head.tied_back]


@pytest.mark.parametrize("name", SCALES)
def test_the_scale_is_heard(suite, name):
    score = suite(name)
    (part,) = score.parts
    assert pitches(part) == C_MAJOR
    assert {head.length for bar in part.bars for head in bar.heads} == {1}
    assert len(score.frames) == 2


@pytest.mark.parametrize("name", NO_NOTES)
def test_a_file_without_notes_says_so(suite, name):
    with pytest.raises(FileError, match="no notes"):
        suite(name)


def test_an_empty_file_says_so(suite):
    with pytest.raises(FileError, match="the file is empty"):
        suite("empty-file")


def test_every_file_gives_notes_or_one_error(shared_dir):
    files = sorted((shared_dir / "scores/smf-tests").glob("*.mid"))
    assert len(files) == 36
    silent = 0
    for path in files:
        try:
            assert any(pitches(part) for part in read_smf(path.read_bytes(), path.name).parts)
        except FileError:
            silent += 1
    assert silent == len(NO_NOTES) + 1


def test_two_tracks_of_format_0_sound_at_once(suite):
    score = suite("2-tracks-type-0")
    first, second = score.parts
    assert pitches(first) == C_MAJOR
    assert pitches(second) == [pitch + 1 for pitch in C_MAJOR]
    assert first.bars[0].heads[0].onset == second.bars[0].heads[0].onset == 1
    assert "format 0 has one track" in " ".join(score.remarks)


def test_two_tracks_of_format_2_follow_each_other(suite):
    first, second = suite("2-tracks-type-2").parts
    assert (pitches(first), pitches(second)) == (C_MAJOR, [pitch + 1 for pitch in C_MAJOR])
    last = max(place for place, bar in enumerate(first.bars) if bar.heads)
    assert min(place for place, bar in enumerate(second.bars) if bar.heads) == last + 1


def test_channels_of_one_track_are_parts(suite):
    for name, parts in (("multichannel-chords-0", 3), ("multichannel-chords-2", 3)):
        score = suite(name)
        assert [len(pitches(part)) for part in score.parts] == [8] * parts
        assert {bar.heads[0].onset for part in score.parts for bar in part.bars} == {0}


def test_percussion_is_no_part(suite):
    score = suite("control-00-20-bank-select")
    assert [len(pitches(part)) for part in score.parts] == [4]
    assert "Percussion" in " ".join(score.remarks)


def test_a_track_ends_where_it_says(suite, shared_dir):
    """One quarter note, then half a bar of silence: one bar."""
    assert [frame.length for frame in suite("track-length").frames] == [4]
    data = (shared_dir / "scores/smf-tests/test-track-length.mid").read_bytes()
    ((note,),) = [voice.notes for voice in timed_notes(data, "track length")]
    assert (note.on_seconds, float(note.off_seconds)) == (0, 0.5)
