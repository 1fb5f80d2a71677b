"""The coach's own files: gone, shut, empty, spoilt.  One sentence that names the file."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

from coach.cli import main
from tests.cli.test_bad_input import ROOT

posix = pytest.mark.skipif(os.name != "posix", reason="files have no modes")
WARM_UP = ["warmup", "--show"]


@pytest.fixture
def configs(monkeypatch) -> Iterator[Path]:
    """The folder that a coach uses which is installed elsewhere."""
    folder = Path(tempfile.mkdtemp())
    shutil.copytree(ROOT / "configs", folder / "configs")
    usual = resources.files
    here = {"coach": folder / "coach"}
    monkeypatch.setattr(resources, "files", lambda name: here.get(name) or usual(name))
    yield folder / "configs"
    shutil.rmtree(folder)


def said(capsys, *words: str) -> None:
    """One sentence with all these words, and the status of bad input."""
    assert main(WARM_UP) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("coach: ")
    assert all(word in line for word in words), line


def test_the_folder_is_gone(configs, capsys):
    shutil.rmtree(configs)
    configs.parent.mkdir(exist_ok=True)
    said(capsys, "the folder configs is missing", "install the coach again")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, ["there is no such file"]),
        ("", []),
        ("[warmup\n", ["line 1", "not TOML"]),
        ("\0\0\0", ["line 1", "not TOML"]),
        ("minutes = 1\n", []),
    ],
)
def test_a_file_is_gone_or_spoilt(configs, capsys, text, words):
    path = configs / "warmup.toml"
    path.unlink()
    if text is not None:
        path.write_text(text)
    said(capsys, *words, "warmup.toml")


@posix
def test_the_folder_is_shut(configs, capsys, monkeypatch):
    monkeypatch.setenv("COACH_HOME", str(configs.parent / "home"))
    root = os.geteuid() == 0  # for whom nothing is shut
    if root:
        for place in (configs.parent, configs):
            shutil.chown(place, 65534)
        os.seteuid(65534)
    try:
        configs.chmod(0o000)
        said(capsys, str(configs))
    finally:
        configs.chmod(0o700)
        if root:
            os.seteuid(0)
