"""The folder of sounds: written whole or not at all, for nobody else to read."""

from __future__ import annotations

import errno
import os
import sys

import numpy as np
import pytest

from coach.core.sound import Sound
from coach.errors import FileError
from coach.files.bookconfig import load_sound_keeping, read_sound_keeping
from coach.files.takesound import TakeSounds

UIDS = [f"{k:032x}" for k in range(1, 4)]


def tone(level: float = 0.3, rate: int = 48_000) -> Sound:
    samples = (level * np.sin(np.arange(rate) * 0.05)).astype(np.float32)
    return Sound(1_234, rate, samples)


@pytest.fixture
def sounds(tmp_path):
    return TakeSounds(tmp_path / "home" / "sound")


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_it_comes_back_to_half_a_step_of_16_bits(sounds, rate):
    size = sounds.keep(UIDS[0], tone(rate=rate))
    back = sounds.read(UIDS[0], 1_234)
    assert (back.frame, back.rate, len(back.samples)) == (1_234, rate, rate)
    assert np.max(np.abs(back.samples - tone(rate=rate).samples)) <= 0.5 / 2**15 + 1e-9
    assert sounds.sizes() == {UIDS[0]: size}
    assert size == (sounds.folder / f"{UIDS[0]}.flac").stat().st_size


def test_what_is_louder_than_full_scale_is_cut_off_and_does_not_turn_over(sounds):
    sounds.keep(UIDS[0], tone(1.5))
    back = sounds.read(UIDS[0], 0).samples
    assert np.all(back * tone(1.5).samples >= -1e-9)
    assert np.max(back) > 0.99


@pytest.mark.skipif(sys.platform == "win32", reason="no such rights there")
def test_nobody_else_may_read_it(sounds):
    sounds.keep(UIDS[0], tone())
    assert sounds.folder.stat().st_mode & 0o777 == 0o700
    assert (sounds.folder / f"{UIDS[0]}.flac").stat().st_mode & 0o777 == 0o600


def test_a_full_disk_leaves_nothing_behind(sounds, monkeypatch):
    sounds.keep(UIDS[0], tone())

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="no space left on device"):
        sounds.keep(UIDS[1], tone())
    assert [path.name for path in sounds.folder.iterdir()] == [f"{UIDS[0]}.flac"]


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "sound").write_text("")
    sounds = TakeSounds(tmp_path / "sound")
    with pytest.raises(FileError, match="can't be written"):
        sounds.keep(UIDS[0], tone())
    assert sounds.sizes() == {}
    assert sounds.read(UIDS[0], 0) is None


def test_dropping(sounds):
    assert sounds.sizes() == {}
    sounds.drop(UIDS)
    for uid in UIDS:
        sounds.keep(uid, tone())
    (sounds.folder / f"{UIDS[2]}.part").write_bytes(b"half")
    (sounds.folder / "mine.flac").write_bytes(b"")
    sounds.drop(UIDS[:2])
    assert set(sounds.sizes()) == {UIDS[2]}
    assert sounds.read(UIDS[0], 0) is None
    sounds.drop_unfinished()
    assert sorted(path.name for path in sounds.folder.iterdir()) == [f"{UIDS[2]}.flac", "mine.flac"]


def test_a_spoilt_file_is_named(sounds):
    sounds.keep(UIDS[0], tone())
    (sounds.folder / f"{UIDS[0]}.flac").write_bytes(b"nothing of the kind")
    with pytest.raises(FileError, match="not a sound file"):
        sounds.read(UIDS[0], 0)


def test_the_settings(tmp_path):
    shipped = load_sound_keeping()
    assert shipped.keep
    assert shipped.budget_bytes == 300_000_000
    path = tmp_path / "book.toml"
    for text, wrong in (
        ("[sound]\nkeep = 1\nbudget_mb = 3", "sound.keep is 1"),
        ("[sound]\nkeep = true\nbudget_mb = 0", "sound.budget_mb is 0"),
        ("[sound]\nkeep = true", "sound.budget_mb is missing"),
        ("[sound]\nkeep = true\nbudget_mb = 3\nbits = 16", "unknown key sound.bits"),
    ):
        path.write_text(text)
        with pytest.raises(FileError) as raised:
            read_sound_keeping(path)
        assert wrong in str(raised.value)
