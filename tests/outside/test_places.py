"""Nothing is written, or deleted, where a name from outside would lead; nothing is unpacked to the
disk; and no file that is no result is written over."""

from __future__ import annotations

import json
import os
import shutil
import stat
import tempfile
import zipfile
from contextlib import closing
from io import BytesIO
from pathlib import Path
from sqlite3 import connect

import numpy as np
import pytest
import soundfile

from coach.cli import main
from coach.core.sound import Sound
from coach.errors import CoachError, FileError
from coach.files.drillwrite import drill_path
from coach.files.musicxml import read_musicxml
from coach.files.takesound import TakeSounds
from tests.files.musicxml.making import CONTAINER, bars, note, partwise
from tests.sharing import fill

LEADING_OUT = [
    "../x", "..", "/x", "a/b", "a\\b", "..\\x", "C:x", "\\\\server\\x", "~/x", "x\0", "x\n", "con",
    "nul", "com1", ".x", "", " ", "x" * 300,
]  # fmt: skip


@pytest.mark.parametrize("name", LEADING_OUT)
def test_a_drill_of_that_name_is_not_kept(name):
    with pytest.raises(FileError, match="no name for a drill"):
        drill_path(name)


@pytest.mark.parametrize("uid", [*LEADING_OUT, "../" + "0" * 29, "0" * 31 + "g", "0" * 33])
def test_a_sound_of_that_name_is_neither_written_read_nor_dropped(uid, tmp_path):
    other = tmp_path / "x.flac"
    other.write_bytes(b"mine")
    sounds = TakeSounds(tmp_path / "sound")
    with pytest.raises(CoachError):
        sounds.keep(uid, Sound(0, 16_000, np.zeros(9, np.float32)))
    with pytest.raises(CoachError):
        sounds.read(uid, 0)
    sounds.drop([uid, "../x", str(tmp_path / "x")])
    assert other.read_bytes() == b"mine"
    assert [path.name for path in tmp_path.rglob("*.flac")] == ["x.flac"]


def test_erasing_a_player_whose_takes_have_evil_names_deletes_nothing_else(tmp_path, monkeypatch):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("COACH_HOME", str(home))
    (home / "sound").mkdir()
    other = tmp_path / "music.flac"
    other.write_bytes(b"mine")
    fill(home / "practice.sqlite", takes=2)
    with closing(connect(home / "practice.sqlite", isolation_level=None)) as db:
        db.execute("UPDATE takes SET uid = '../../music' WHERE id = 1")
    assert main(["player", "player", "--erase", "--yes"]) == 0
    assert other.exists()


@pytest.mark.parametrize("name", ["../../x", "a/b", "con", "\0", "x.toml"])
def test_a_file_of_records_writes_nothing_outside(name, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "a" / "home"))
    head = {
        "record": "header", "format": "evenrun-records", "version": 1, "purpose": "assignment",
        "written_by": "x", "made_utc": "2026-11-26T19:17:28Z", "player": None, "assignment": None,
    }  # fmt: skip
    text = 'title = "x"\n[passage]\nnotes = ["C4 1/4"]\n[tempo]\nfrom = 60\nto = 70\n'
    path = tmp_path / "set.jsonl"
    lines = [head, {"record": "drill", "name": name, "text": text}]
    path.write_text("\n".join(map(json.dumps, lines)) + "\n")
    assert main(["import", str(path)]) == 2
    assert "line 2" in capsys.readouterr().err
    assert list(tmp_path.rglob("*.toml")) == []


def archive(*members: tuple[zipfile.ZipInfo | str, bytes]) -> bytes:
    made = BytesIO()
    with zipfile.ZipFile(made, "w") as out:
        for name, data in members:
            out.writestr(name, data)
    return made.getvalue()


def link_to(name: str) -> zipfile.ZipInfo:
    """A member that says of itself that it is a link, as archives made on POSIX may."""
    made = zipfile.ZipInfo(name)
    made.create_system = 3
    made.external_attr = (stat.S_IFLNK | 0o777) << 16
    return made


def test_nothing_of_an_archive_comes_to_the_disk(tmp_path, monkeypatch):
    """Links are no more than the text of the link; members of evil names are passed over."""
    monkeypatch.chdir(tmp_path)
    for name in ("mkdtemp", "mkstemp", "NamedTemporaryFile"):
        monkeypatch.setattr(tempfile, name, None)
    monkeypatch.setattr(zipfile.ZipFile, "extract", None)
    monkeypatch.setattr(zipfile.ZipFile, "extractall", None)
    page = partwise(bars(note("C4")))
    evil = [("../../out.txt", b"x"), ("/tmp/out.txt", b"x"), (link_to("l"), b"/etc/passwd")]
    listed = ("META-INF/container.xml", CONTAINER)
    assert read_musicxml(archive(listed, *evil, ("score.xml", page)), "x.mxl").parts
    linked = archive(listed, (link_to("score.xml"), b"/etc/passwd"))
    with pytest.raises(FileError, match="not MusicXML"):
        read_musicxml(linked, "x.mxl")
    assert list(tmp_path.iterdir()) == []


def test_a_bomb_in_a_bomb_is_not_unpacked():
    """A member that unpacks to 200 MB of blanks is given up after 4: its list of contents too."""
    bomb = BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("META-INF/container.xml", b" " * 50_000_000)
    with pytest.raises(FileError, match="unpacks to"):
        read_musicxml(bomb.getvalue(), "x.mxl")


@pytest.mark.parametrize(
    "words",
    [
        "drill turns --input player --fast --plain --takes 1 --events {}",
        "assess take.wav --expect expect.json --json {}",
        "fingering turns --json {}",
        "passage turns.abc --json {}",
        "passage turns --out {}",
        "export {}",
        "review --html {}",
        "sheet turns --out {}",
        "learn --input take.wav --yes --out {}",
    ],
)
@pytest.mark.parametrize("name", ["take.wav", "practice.sqlite"])
def test_no_other_file_is_written_over(words, name, tmp_path, monkeypatch, capfd):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    fill(tmp_path / "practice.sqlite", takes=1)
    soundfile.write(tmp_path / "take.wav", np.zeros(16_000, np.float32), 16_000)
    (tmp_path / "expect.json").write_text(
        '{"notes": [{"onset_s": 0.1, "duration_s": 0.1, "midi": 60}]}'
    )
    (tmp_path / "turns.abc").write_text("X:1\nT:x\nL:1/4\nK:C\nCDEF|\n")
    (tmp_path / "mine.toml").write_text("# mine")
    (tmp_path / "mine.jsonl").write_text("# mine\n")
    kept = tmp_path / f"kept-{name}"
    shutil.copy(tmp_path / name, kept)
    assert main(words.format(name).split()) == 2
    if name != "practice.sqlite":
        assert (tmp_path / name).read_bytes() == kept.read_bytes()
    with closing(connect(tmp_path / "practice.sqlite")) as db:
        assert db.execute("SELECT COUNT(*) FROM takes").fetchone() == (1,)


@pytest.mark.skipif(os.name != "posix", reason="Windows has no pipes of this kind")
def test_results_may_go_into_a_pipe(tmp_path):
    assert main(["fingering", "turns", "--json", "/dev/null"]) == 0
    assert Path("/dev/null").is_char_device()
