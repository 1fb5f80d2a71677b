"""`coach sheet`, from a drill to files."""

from __future__ import annotations

import re

import pytest

from coach.cli import main
from coach.files.engrave import music

ODD = '#x *y* _z_ \\\\ "q" <t>'


def _mine(tmp_path, title: str = "mine", *, notes: str = '"C5 1/4", "D5 1/4", "E5 1/2"') -> str:
    path = tmp_path / "mine.toml"
    path.write_text(
        f"title = '{title}'\nabout = 'x'\n[passage]\nnotes = [{notes}]\n"
        "[tempo]\nfrom = 60\nto = 90\n",
        encoding="utf-8",
    )
    return str(path)


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_a_pdf_in_this_folder_by_default(tmp_path, capsys):
    assert main(["sheet", "turns"]) == 0
    assert (tmp_path / "turns.pdf").read_bytes().startswith(b"%PDF")
    assert capsys.readouterr().out == "turns.pdf\n"


def test_pictures_of_several_pages_are_numbered(tmp_path, capsys):
    notes = ", ".join('"C5 1/16", "D5 1/16", "E5 1/16", "F5 1/16"' for _ in range(40))
    assert main(["sheet", _mine(tmp_path, notes=notes), "--png", "--out", "run.png"]) == 0
    names = capsys.readouterr().out.split()
    assert names == [f"run-{k}.png" for k in range(1, len(names) + 1)]
    assert len(names) > 1
    assert all((tmp_path / name).read_bytes().startswith(b"\x89PNG") for name in names)


def test_nothing_is_written_over_unless_asked(tmp_path, capsys):
    taken, drill = tmp_path / "mine.svg", _mine(tmp_path)
    taken.write_text("mine")
    assert main(["sheet", drill, "--svg"]) == 2
    assert taken.read_text() == "mine"
    assert "mine.svg: there is a file already; choose" in capsys.readouterr().err
    assert main(["sheet", drill, "--svg", "--replace"]) == 0
    assert "<svg" in taken.read_text()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--out", "a.txt"], "a.txt: this suffix doesn't fit; use .pdf, .png, .svg."),
        (["--out", "a.png", "--pdf"], "a.png: this suffix doesn't fit; use .pdf."),
        (["--out", "no/such/a.pdf"], "it can't be written (no such file or directory)"),
        (["--paper", "a3"], '--paper "a3" is unknown; use a4 or letter.'),
        (["--plans", "3"], "--plans 3 is no number of plans; give 1 or 2."),
    ],
)
def test_bad_options_are_one_sentence(options, words, capsys):
    assert main(["sheet", "turns", *options]) == 2
    assert words in capsys.readouterr().err


def test_plain_notes_have_neither_fingers_nor_syllables(tmp_path, monkeypatch):
    assert "fingering" in _engraved(monkeypatch, ["sheet", "ta-ka-groups", "--svg"])
    bare = _engraved(
        monkeypatch, ["sheet", "ta-ka-groups", "--svg", "--plain-notes", "--out", "plain.svg"]
    )
    assert "<fingering" not in bare
    assert "<lyric" not in bare


def _engraved(monkeypatch, command) -> str:
    """The MusicXML of the passage itself."""
    asked, real = [], music.engraved

    def engraved(jobs, where):
        asked.extend(jobs)
        return real(jobs, where)

    monkeypatch.setattr(music, "engraved", engraved)
    assert main(command) == 0
    return asked[0].voices[0].xml


def test_a_passage_keeps_its_own_fingerings_and_syllables(tmp_path, monkeypatch):
    xml = _engraved(monkeypatch, ["sheet", "written-out", "--svg"])
    found = re.findall(r"<fingering[^>]*>\s*(.*?)\s*</fingering>", xml)
    assert found[:4] == ["1", "T12", "T1", "T0"]
    assert re.findall(r"<text>(.*?)</text>", xml)[:3] == ["ta", "ta", "ka"]


def test_two_plans_have_two_voices(monkeypatch):
    asked, real = [], music.engraved
    monkeypatch.setattr(
        music, "engraved", lambda jobs, where: asked.extend(jobs) or real(jobs, where)
    )
    assert main(["sheet", "ta-ka-groups", "--plans", "2", "--svg"]) == 0
    one, other = asked[0].voices
    assert one.xml != other.xml
    assert one.overlined == other.overlined != ()


def test_odd_titles_and_letter_paper(tmp_path):
    assert main(["sheet", _mine(tmp_path, ODD), "--paper", "letter", "--out", "odd.pdf"]) == 0
    assert b"%PDF" in (tmp_path / "odd.pdf").read_bytes()


def test_without_valves_there_are_no_fingerings(tmp_path, monkeypatch):
    command = ["sheet", _mine(tmp_path), "--instrument", "natural-horn", "--svg"]
    assert "<fingering" not in _engraved(monkeypatch, command)


def test_a_note_that_has_no_fingering_is_named(tmp_path, capsys):
    """No position of a tenor trombone gives E flat 2: it lies between the seventh and the pedals
    (common practice, no source)."""
    notes = '"Bb2 1/4", "Eb2 1/4", "D2 1/2"'
    path = tmp_path / "low.toml"
    path.write_text(
        f"title = 'low'\nabout = 'x'\n[passage]\nnotes = [{notes}]\n[tempo]\nfrom = 60\nto = 90\n"
    )
    assert main(["sheet", str(path), "--instrument", "trombone", "--svg"]) == 0
    words = "Fingerings are left out: note 2 has none on the tenor trombone."
    assert words in capsys.readouterr().out
