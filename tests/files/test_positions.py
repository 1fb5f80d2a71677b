"""The file of bars beside a recording: back as it was, and one sentence for all that is wrong."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.tutti.bars import Positions
from coach.errors import FileError
from coach.files.configs import own_folder
from coach.files.positions import (
    keep_positions,
    kept_positions,
    positions_path,
    read_positions,
    write_positions,
)

PLACES = Positions(44_100, (Fraction(0), Fraction(7, 2)), (1_000, 90_000), (0.9, 1.0))


def test_what_was_written_is_read(tmp_path):
    path = positions_path(tmp_path / "music.flac")
    assert path.name == "music.bars.json"
    write_positions(path, PLACES, "taps")
    assert read_positions(path) == PLACES
    assert json.loads(path.read_text())["from"] == "taps"


def test_they_are_kept_beside_the_recording(tmp_path):
    recording = tmp_path / "music.flac"
    assert kept_positions(recording) is None
    assert keep_positions(recording, PLACES, "sound") == positions_path(recording)
    assert kept_positions(recording) == positions_path(recording)


def test_where_the_folder_can_not_be_written_they_are_kept_in_the_own(tmp_path, monkeypatch):
    # No folder at all: nobody can write into it, whatever rights the tests run with.
    recording, other = tmp_path / "gone" / "music.flac", tmp_path / "lost" / "music.flac"
    kept = keep_positions(recording, PLACES, "taps")
    assert kept.parent == own_folder() / "recordings"
    assert kept_positions(recording) == kept
    assert read_positions(kept) == PLACES
    assert kept_positions(other) is None
    recording.parent.mkdir()
    assert keep_positions(recording, PLACES, "taps").parent == recording.parent
    assert not kept.exists()


def spoilt(**changes):
    whole = {
        "format": "evenrun bars",
        "version": 1,
        "rate": 44_100,
        "places": [{"beat": "0", "frame": 0}, {"beat": "4", "frame": 88_200}],
    }
    return json.dumps({**whole, **changes})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "not JSON"),
        ("[]", "not a file of bars"),
        ("[" * 100_000, "not JSON"),
        (spoilt(version=2), "not a file of bars"),
        (spoilt(rate="fast"), '"rate" is not a whole number'),
        (spoilt(places=3), "no list"),
        (spoilt(places=[]), "two places"),
        (spoilt(places=[3]), "place 1 is not a beat"),
        (spoilt(places=[{"beat": "1/0", "frame": 0}]), '"beat" of place 1'),
        (spoilt(places=[{"beat": "1e999999999", "frame": 0}]), '"beat" of place 1'),
        (spoilt(places=[{"beat": "0", "frame": 0.5}]), '"frame" of place 1'),
        (spoilt(places=[{"beat": "0", "frame": 0, "sure": 2}]), '"sure" of place 1'),
        (spoilt(places=[{"beat": 0, "frame": 9}, {"beat": 4, "frame": 9}]), "beat 4: .*go on"),
    ],
)
def test_what_is_wrong_is_one_sentence(tmp_path, text, said):
    path = tmp_path / "music.bars.json"
    path.write_text(text)
    with pytest.raises(FileError, match=said):
        read_positions(path)


def test_no_file_and_bars_after_the_end(tmp_path):
    path = tmp_path / "music.bars.json"
    with pytest.raises(FileError, match="no such file"):
        read_positions(path)
    write_positions(path, PLACES, "sound")
    with pytest.raises(FileError, match="after the end"):
        read_positions(path, 80_000)


@given(cut=st.integers(0, 200))
def test_a_truncated_file_is_a_sentence(tmp_path_factory, cut):
    path: Path = tmp_path_factory.mktemp("cut") / "music.bars.json"
    write_positions(path, PLACES, "sound")
    whole = path.read_text()
    path.write_text(whole[: min(cut, len(whole) - 3)])
    with pytest.raises(FileError):
        read_positions(path)
