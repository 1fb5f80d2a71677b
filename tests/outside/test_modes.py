"""What is kept of a player is its owner's alone, even where everything is open to everybody."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from coach.book import backup
from coach.book.practice import PracticeBook
from coach.cli import main
from coach.core.sound import Sound
from coach.files.audio import write_audio
from coach.files.calibration import Calibration, store_round_trip
from coach.files.configs import load_instrument
from coach.files.drillwrite import drill_path, write_drill
from coach.files.eventlog import EventLog
from coach.files.output import write_whole
from coach.files.player import keep_range
from coach.files.takesound import TakeSounds
from tests.book.making import filled, keep, spoil
from tests.book.oldbooks import version_2
from tests.sharing import fill

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="files have no modes there")


@pytest.fixture
def home(tmp_path, monkeypatch) -> Iterator[Path]:
    """A folder that is not there yet, where every new file would be open to all."""
    monkeypatch.chdir(tmp_path)
    home = tmp_path / "of" / "mine"
    monkeypatch.setenv("COACH_HOME", str(home))
    before = os.umask(0)
    yield home
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def assert_private(*paths: Path) -> None:
    """Each of them, and all that is in folders."""
    for path in paths:
        assert mode(path) == (0o700 if path.is_dir() else 0o600), f"{path}: {mode(path):o}"
        assert_private(*(path.iterdir() if path.is_dir() else ()))


def test_the_own_folder_and_all_that_is_in_it(home):
    path = home / "practice.sqlite"
    with PracticeBook(path) as book:
        keep(book)
        assert_private(home.parent)  # the log, too
    TakeSounds(home / "sound").keep("0" * 32, Sound(0, 16_000, np.zeros(99, np.float32)))
    store_round_trip("a", "b", Calibration(0.01, 0.1, 48_000))
    keep_range(load_instrument("double-horn"), (48, 70))
    assert_private(home.parent)
    assert {p.name for p in home.iterdir()} >= {"backups", "sound", "calibrations.json"}
    write_drill(drill_path("mine"), "x")
    assert mode(home / "drills") == 0o700


def test_made_by_any_of_them_first(home):
    store_round_trip("a", "b", Calibration(0.01, 0.1, 48_000))
    assert_private(home.parent)


def test_copies_of_a_book_that_is_brought_over_or_damaged(home, monkeypatch):
    home.mkdir(parents=True, mode=0o700)
    path = home / "practice.sqlite"
    version_2(path)
    for place in home.iterdir():
        place.chmod(0o666)  # as its coach was told to leave it
    with PracticeBook(path) as book:
        keep(book)
    filled(path, 40)
    spoil(path)
    monkeypatch.setattr(os, "link", _no_links)
    with PracticeBook(path) as book:
        assert "damaged" in book.remarks[0]
    names = {p.name for p in home.iterdir()}
    assert f"practice-damaged-{date.today()}.sqlite" in names
    assert "practice-version-2.sqlite" in names
    assert_private(home)


def _no_links(*_: object) -> None:
    raise OSError("no links here")


def test_what_is_handed_out(home, tmp_path):
    home.mkdir(parents=True, mode=0o700)
    fill(home / "practice.sqlite", takes=3)
    for words in (
        "export a.jsonl", "export a.csv", "export n.csv --notes", "return b.jsonl",
        "assign c.jsonl turns", "review --html d.html", "review --json e.json",
        "today --json f.json",
    ):  # fmt: skip
        assert main(words.split()) == 0
    with EventLog(tmp_path / "g.jsonl") as log:
        log.write({"event": "x"})
    write_audio(tmp_path / "h.wav", np.zeros(99, np.float32), 48_000)
    made = [path for path in tmp_path.iterdir() if path.is_file()]
    assert len(made) == 10
    assert_private(*made)


def test_a_file_is_no_more_open_than_the_one_it_takes_the_place_of(home, tmp_path):
    path = tmp_path / "x"
    write_whole(path, "any")
    assert mode(path) == 0o666
    path.chmod(0o640)
    write_whole(path, "other")
    assert (mode(path), path.read_text()) == (0o640, "other")
    write_whole(path, "mine", private=True)
    assert mode(path) == 0o600


def test_what_was_left_half_written_is_not_written_into(home, tmp_path):
    part = tmp_path / "x.part"
    part.symlink_to(tmp_path / "elsewhere")
    write_whole(tmp_path / "x", "mine", private=True)
    assert not (tmp_path / "elsewhere").exists()
    assert mode(tmp_path / "x") == backup.OWNER_ONLY
