"""`coach review --html`, from a book to a file."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from coach.cli import main
from coach.errors import FileError
from coach.files.configs import own_folder
from coach.files.engrave import music
from coach.ports.clock import day_number
from tests.page.month import Worked, keep_month

SVG = "{http://www.w3.org/2000/svg}"
XHTML = "{http://www.w3.org/1999/xhtml}"


@pytest.fixture
def played(tmp_path, monkeypatch):
    """A few takes of two drills."""
    own_folder().mkdir(parents=True, exist_ok=True)
    few = (Worked("turns", 80, 90, 8, 2), Worked("ta-ka-groups", 90, 100, 2, 2))
    keep_month(own_folder() / "practice.sqlite", day_number(), few)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "page.html"


def root_of(path):
    return ET.fromstring(path.read_text(encoding="utf-8").removeprefix("<!DOCTYPE html>\n"))


def test_a_page_for_each_passage_of_late(played, capsys):
    assert main(["review", "--html", "page.html"]) == 0
    assert capsys.readouterr().out == "page.html\n"
    root = root_of(played)
    headings = [one.text for one in root.iter(f"{XHTML}h2")]
    assert headings[:2] == ["Double tongue, groups of four", "Turns through the scale"]
    assert len([s for s in root.iter(f"{SVG}svg") if s.get("class") == "engraving"]) >= 2
    assert not list(played.parent.glob("*.part"))


def test_nothing_is_written_over_unless_asked(played, capsys):
    played.write_text("mine")
    assert main(["review", "--html", "page.html"]) == 2
    words = "page.html: there is a file already; choose another name, or --replace."
    assert words in capsys.readouterr().err
    assert played.read_text() == "mine"
    assert main(["review", "--html", "page.html", "--replace"]) == 0
    assert "<svg" in played.read_text(encoding="utf-8")


def test_what_cannot_be_written_is_one_sentence(played, capsys):
    assert main(["review", "--html", "no/such/page.html"]) == 2
    assert "it can't be written (no such file or directory)" in capsys.readouterr().err


def test_names_stand_where_nothing_can_be_engraved(played, monkeypatch):
    def broken(jobs, where):
        raise FileError("this can't be engraved", where)

    monkeypatch.setattr(music, "engraved", broken)
    assert main(["review", "--html", "page.html"]) == 0
    root = root_of(played)
    assert not [s for s in root.iter(f"{SVG}svg") if s.get("class") == "engraving"]
    line = next(s for s in root.iter(f"{SVG}svg") if s.get("class") == "line")
    assert "F4" in [text.text for text in line.iter(f"{SVG}text")]


def test_an_instrument_that_was_not_played(played):
    assert main(["review", "--instrument", "tuba", "--html", "page.html"]) == 0
    assert "Nothing has been played lately" in played.read_text(encoding="utf-8")


def test_before_anything_was_played(tmp_path, capsys):
    assert main(["review", "--html", str(tmp_path / "page.html")]) == 2
    assert "nothing has been played yet" in capsys.readouterr().err
