"""A file is there in full, or as it was before."""

from __future__ import annotations

import pytest

from coach.errors import FileError
from coach.files.output import check_free, write_whole


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
