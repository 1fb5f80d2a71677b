"""A file is there in full, or as it was before."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from coach.errors import FileError
from coach.files.audio import read_audio
from coach.files.output import check_free, write_whole, writing
from coach.files.toml import read_toml


def test_it_is_written_in_full_and_nothing_is_left_beside(tmp_path):
    path = tmp_path / "page.html"
    write_whole(path, "old")
    write_whole(path, "ä♭ new")
    assert path.read_text(encoding="utf-8") == "ä♭ new"
    assert list(tmp_path.iterdir()) == [path]


def test_what_cannot_be_written_is_one_sentence(tmp_path):
    with pytest.raises(FileError, match=r"a\.html: it can't be written \(no such file"):
        write_whole(tmp_path / "no" / "a.html", "x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(FileError, match=r"folder: it can't be written \("):
        write_whole(tmp_path / "folder", "x")
    assert [one.name for one in tmp_path.iterdir()] == ["folder"]


def test_a_file_that_is_there_is_only_written_over_if_asked(tmp_path):
    path = tmp_path / "a.txt"
    check_free(path, replace=False)
    path.touch()
    check_free(path, replace=True)
    with pytest.raises(FileError, match=r"a\.txt: there is a drill already; .* --replace\.$"):
        check_free(path, replace=False, what="drill")


def test_lines_end_alike_on_every_system(tmp_path):
    write_whole(tmp_path / "a", "one\ntwo\n")
    assert (tmp_path / "a").read_bytes() == b"one\ntwo\n"


@pytest.mark.parametrize("name", ["nul", "CON.toml", "com1.tar.gz", "Lpt9.pdf", "march:2.pdf"])
def test_windows_is_spared_names_that_are_no_files_there(tmp_path, monkeypatch, name):
    """Naming Files, Paths, and Namespaces (Microsoft): device names, with any ending; and a colon
    names a stream of the file before it."""
    monkeypatch.setattr(sys, "platform", "win32")
    with pytest.raises(FileError, match="Windows has no files of this name"):
        write_whole(tmp_path / name, "x")
    assert not list(tmp_path.iterdir())
    write_whole(tmp_path / "console.toml", "x")
    monkeypatch.setattr(sys, "platform", "linux")
    with writing(tmp_path / name):
        pass


@pytest.mark.parametrize("read", [read_toml, read_audio])
def test_a_folder_is_called_one_where_the_system_only_refuses(tmp_path, monkeypatch, read):
    """Windows: EACCES where others say EISDIR."""

    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refused)
    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(FileError, match="this is a folder"):
        read(tmp_path)
    with pytest.raises(FileError, match="ermission denied"):
        read(tmp_path / "a")
