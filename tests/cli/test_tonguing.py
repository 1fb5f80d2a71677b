"""`coach tonguing`: the table, the JSON and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.cli import main
from coach.core.tonguing import Style
from coach.files.tonguing import load_tonguing

MINE = """
title = "Mine"
instrument = "double-horn"
[passage]
key = "F"
meter = "6/8"
notes = ["F4 1/8", "Bb4 1/16", "A4 1/16 slur", "G4 1/8 ka", "C5 3/8"]
[tempo]
from = 60
to = 90
"""


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(MINE)
    return path


def result(out: Path, *arguments: object) -> dict:
    assert main(["tonguing", *map(str, arguments), "--json", str(out)]) == 0
    return json.loads(out.read_text())


def syllables(out: Path, *arguments: object) -> list[str | None]:
    return [note["syllable"] for note in result(out, *arguments)["notes"]]


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    assert main(["tonguing", *map(str, arguments)]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("coach: ")
    return lines[0]


def test_json_tells_where_each_note_is_and_what_is_said(mine, tmp_path):
    found = result(tmp_path / "out.json", mine)
    assert (found["title"], found["tempo_bpm"], found["instrument"]) == ("Mine", 90, "double-horn")
    assert [n["written"] for n in found["notes"]] == ["F4", "Bb4", "A4", "G4", "C5"]
    # Horn in F sounds a fifth lower: written F4 is MIDI 65, sounding 58.
    assert [n["midi"] for n in found["notes"]] == [58, 63, 62, 60, 65]
    assert [n["bar"] for n in found["notes"]] == [1] * 5
    assert [n["beat"] for n in found["notes"]] == ["1", "3/2", "7/4", "2", "5/2"]
    assert [n["syllable"] for n in found["notes"]] == ["ta", "ta", None, "ka", "ta"]
    assert [n["slurred"] for n in found["notes"]] == [False, False, True, False, False]
    assert found["notes"][3]["reason"] == "kept as written"
    assert found["notes"][2]["reason"] == "slurred: no tongue"


def test_bars_count_on(tmp_path):
    notes = result(tmp_path / "out.json", "ta-ka-groups")["notes"]
    assert (notes[16]["bar"], notes[16]["beat"], notes[16]["onset_beats"]) == (2, "1", "4")


def test_the_goal_tempo_unless_another_is_given(tmp_path):
    out = tmp_path / "out.json"
    assert set(syllables(out, "ta-ka-groups", "--anew")) == {"ta", "ka"}
    assert set(syllables(out, "ta-ka-groups", "--anew", "--tempo", 66)) == {"ta"}


def test_spelling_order_style_and_strengthening(tmp_path):
    out, name = tmp_path / "out.json", "ta-ta-ka-triplets"
    anew = [name, "--anew", "--front", "da", "--back", "ga"]
    assert syllables(out, *anew)[:3] == ["da", "da", "ga"]
    assert syllables(out, *anew, "--order", "tkt")[:3] == ["da", "ga", "da"]
    assert syllables(out, *anew, "--strengthen")[:3] == ["ga", "da", "da"]
    assert syllables(out, *anew, "--style", "single")[:3] == ["da", "da", "da"]
    assert syllables(out, *anew, "--single-limit", 11)[:3] == ["da", "da", "da"]


def test_written_syllables_stay_unless_chosen_anew(tmp_path):
    out = tmp_path / "out.json"
    assert syllables(out, "ta-ka-groups", "--front", "da")[:2] == ["ta", "ka"]
    assert syllables(out, "ta-ka-groups", "--front", "da", "--anew")[:2] == ["da", "ka"]


def test_table(mine, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["tonguing", str(mine)]) == 0
    shown = capsys.readouterr().out
    lines = [line.split() for line in shown.splitlines()]
    assert "at 90 clicks a minute" in shown
    assert "single tonguing does at any tempo, with a limit of 8 notes a second" in shown
    assert [
        "1",
        "1",
        "F4",
        "ta",
        "single:",
        "no",
        "run",
        "over",
        "8",
        "notes",
        "a",
        "second",
    ] in lines
    assert ["1", "+", "1/2", "A4", "slur", "slurred:", "no", "tongue"] in lines
    assert ["2", "C5", "ta"] in lines
    assert "teacher" in shown


def test_table_says_where_single_ends(capsys):
    """Eight a second are sixteenths at 120."""
    assert main(["tonguing", "ta-ka-groups", "--variant", "2"]) == 0
    shown = capsys.readouterr().out
    assert "single tonguing ends at 120, with a limit of 8 notes a second" in shown
    assert "(2 of 4, C major)" in shown


def test_another_instrument_reads_the_same_notes(mine, tmp_path):
    found = result(tmp_path / "out.json", mine, "--instrument", "trumpet")
    assert [n["written"] for n in found["notes"]] == ["F4", "Bb4", "A4", "G4", "C5"]
    assert found["notes"][0]["midi"] == 63


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--tempo=0", "10 to 400"),
        ("--tempo=nan", "10 to 400"),
        ("--single-limit=0", "1 to 30"),
        ("--single-limit=inf", "1 to 30"),
        ("--front=ka", "ta, da"),
        ("--back=tongue", "ka, ga"),
        ("--order=kkt", "ttk, tkt, tktktk"),
        ("--style=quadruple", "single, double, triple"),
        ("--variant=0", "1 to 4"),
        ("--variant=5", "1 to 4"),
        ("--instrument=comb", "see coach instrument"),
    ],
)
def test_options_that_cannot_be(capsys, option, words):
    sentence = refused(capsys, "ta-ka-groups", option)
    assert words in sentence
    assert option.split("=")[1] in sentence


def test_unknown_drill(capsys):
    assert "ta-ka-groups" in refused(capsys, "ta-ka-group")


@pytest.mark.parametrize("name", ["run.musicxml", "run.mid", "run.abc", "run.toml"])
def test_files_that_cannot_be_read(capsys, tmp_path, name):
    assert name in refused(capsys, tmp_path / name)


def test_drill_with_a_mistake(capsys, mine):
    mine.write_text(MINE.replace("C5 3/8", "H5 3/8"))
    assert "H5" in refused(capsys, mine)


def test_result_that_cannot_be_written(capsys, tmp_path):
    out = tmp_path / "no" / "out.json"
    assert str(out) in refused(capsys, "ta-ka-groups", "--json", out)


def test_the_table_of_figures_is_the_style_of_the_code():
    """The file says why; a player who chooses nothing gets the same in both."""
    table = load_tonguing()
    assert table.style == Style()
    assert {"ta", "da"} <= set(table.fronts)
    assert {"ka", "ga"} <= set(table.backs)
    assert all(table.style.is_back(name) for name in table.backs)
    assert not any(table.style.is_back(name) for name in table.fronts)
