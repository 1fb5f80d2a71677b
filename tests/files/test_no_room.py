"""Whatever file is written: on a full disk it is one sentence, and what was there stays."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from coach.cli import sheet, writing
from coach.cli.chosen import write_result
from coach.core.sound import Sound
from coach.errors import CoachError
from coach.files.audio import write_audio
from coach.files.calibration import Calibration, store_round_trip
from coach.files.configs import load_instrument, own_folder
from coach.files.drillwrite import write_drill
from coach.files.output import write_whole
from coach.files.player import keep_range
from coach.files.share.lines import write_records
from coach.files.share.table import write_table
from coach.files.takesound import TakeSounds
from tests.files.share.test_lines import HEADER

room = pytest.importorskip("tests.room")

SILENCE = np.zeros(4800, np.float32)
OVER = argparse.Namespace(replace=True)
# What writes a file: its name, and how.
WRITERS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "export": ("a.jsonl", lambda path: write_records(path, [HEADER])),
    "spreadsheet": ("a.csv", lambda path: write_table(path, ["a"], [["b"]])),
    "review page": ("a.html", lambda path: write_whole(path, "<p>")),
    "sheet": ("a.pdf", lambda path: sheet._write(OVER, path.with_suffix(""), "pdf", (b"a",))),
    "passage": ("a.mid", lambda path: writing._write(path, b"a", over=True)),
    "drill": ("a.toml", lambda path: write_drill(path, "a = 1", replace=True)),
    "result": ("a.json", lambda path: write_result(path, {"a": 1})),
    "sound file": ("a.wav", lambda path: write_audio(path, SILENCE, 48000)),
}


@pytest.mark.parametrize("what", WRITERS)
def test_the_file_is_as_it_was(what, tmp_path):
    name, write = WRITERS[what]
    path = tmp_path / name
    path.write_text('["as it was"]')
    with room.no_file_larger(), pytest.raises(CoachError, match=rf"{name}.*can't be written"):
        write(path)
    assert path.read_text() == '["as it was"]'
    assert list(tmp_path.iterdir()) == [path]
    write(path)
    assert path.read_bytes() != b'["as it was"]'


def test_what_was_measured_and_told_before_stays(tmp_path):
    horn = load_instrument("double-horn")
    keep_range(horn, (50, 70))
    store_round_trip("a", "b", Calibration(0.01, 0.1, 48000))
    before = {path.name: path.read_bytes() for path in own_folder().iterdir()}
    with room.no_file_larger():
        with pytest.raises(CoachError, match="can't be kept"):
            keep_range(horn, (52, 72))
        with pytest.raises(CoachError, match="can't be kept"):
            store_round_trip("a", "b", Calibration(0.02, 0.1, 48000))
    for name, was in before.items():
        assert (own_folder() / name).read_bytes() == was


def test_the_sound_of_takes_leaves_room_for_the_book(tmp_path):
    """On a disk with four megabytes: no sound, and what it would take is there for takes."""
    with room.small_disk(4_000_000) as disk:
        with pytest.raises(CoachError, match=r"no space left on device.*make room"):
            TakeSounds(disk / "sound").keep("ab" * 16, Sound(0, 48000, SILENCE))
        assert list((disk / "sound").iterdir()) == []


def test_a_link_is_written_through(tmp_path):
    """As /dev/stdout is one."""
    path, link = tmp_path / "a", tmp_path / "link"
    path.write_text("as it was")
    link.symlink_to(path)
    write_whole(link, "new")
    assert link.is_symlink()
    assert path.read_text() == "new"
