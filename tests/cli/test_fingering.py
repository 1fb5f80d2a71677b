"""`coach fingering`: its JSON, the strip to play from, and bad input."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from coach.cli import main
from coach.core.fingering.weights import TERMS

NOTE_FIELDS = (
    "index", "written", "midi", "fingering", "side", "valves", "partial", "cents", "reason",
)  # fmt: skip
DRILL = """title = "A turn of our own"
[passage]
key = "F"
meter = "2/4"
notes = ["F4 1/16", "G4 1/16", "Ab4 1/16", "Bb4 1/16", "Ab4 1/16", "G4 1/16", "F4 1/8",
         "C5 1/8", "F4 3/8"]
[tempo]
from = 60
to = 138
"""


@pytest.fixture(autouse=True)
def _plain_screen(monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def drill(tmp_path: Path) -> Path:
    path = tmp_path / "turn.toml"
    path.write_text(DRILL, encoding="utf-8")
    return path


def planned(tmp_path: Path, *arguments: object) -> dict:
    out = tmp_path / "plans.json"
    assert main(["fingering", *map(str, arguments), "--json", str(out)]) == 0
    return json.loads(out.read_text(encoding="utf-8"))


def fingerings(plan: dict) -> list[str]:
    return [note["fingering"] for note in plan["notes"]]


def as_json(tmp_path: Path, content: object) -> Path:
    path = tmp_path / "list.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def test_the_fields_of_the_contract(drill, tmp_path):
    found = planned(tmp_path, drill)
    assert list(found) == ["instrument", "plans"]
    assert found["instrument"] == "double-horn"
    for plan in found["plans"]:
        assert list(plan) == ["cost", "notes", "terms"]
        assert set(plan["terms"]) == set(TERMS)
        assert [tuple(note) for note in plan["notes"]] == [NOTE_FIELDS] * 9
        assert plan["cost"] == pytest.approx(sum(plan["terms"].values()), abs=0.02)
        for place, note in enumerate(plan["notes"]):
            assert note["index"] == place
            assert re.fullmatch("T?(0|[123]+)", note["fingering"])
            assert note["fingering"] == "T" * (note["side"] == "Bb") + note["valves"]
            assert isinstance(note["cents"], int)
    first = found["plans"][0]["notes"][2]
    assert (first["written"], first["midi"]) == ("Ab4", 61)
    assert (first["fingering"], first["partial"], first["cents"]) == ("1", 7, -31)
    assert first["reason"]


def test_the_cheapest_plan_comes_first(drill, tmp_path):
    found = planned(tmp_path, drill, "--alternatives", 4)
    costs = [plan["cost"] for plan in found["plans"]]
    assert len(costs) == 4
    assert costs == sorted(costs)
    assert len({tuple(fingerings(plan)) for plan in found["plans"]}) == 4


def test_the_tempo_decides(drill, tmp_path):
    slow = planned(tmp_path, drill, "--tempo", 30)["plans"][0]
    assert fingerings(slow)[:6] == ["1", "0", "23", "T1", "23", "0"]
    assert fingerings(planned(tmp_path, drill)["plans"][0])[:6] == ["1", "0", "1", "1", "1", "0"]


def test_fixed_fingerings_are_costed_by_the_same_terms(drill, tmp_path):
    best = planned(tmp_path, drill)["plans"][0]
    same = planned(tmp_path, drill, "--fixed", as_json(tmp_path, fingerings(best)))
    assert [(p["cost"], p["terms"]) for p in same["plans"]] == [(best["cost"], best["terms"])]
    chart = ["1", "0", "23", "1", "23", "0", "1", "T0", "1"]
    worse = planned(tmp_path, drill, "--fixed", as_json(tmp_path, chart))["plans"]
    assert [fingerings(plan) for plan in worse] == [chart]
    assert worse[0]["cost"] > best["cost"]
    assert worse[0]["terms"]["exchanges"] > best["terms"]["exchanges"]


def test_known_fingerings_stay(drill, tmp_path):
    best = fingerings(planned(tmp_path, drill)["plans"][0])
    old = ["T0", "T1", "T2", "T1", "T2", "T1", "T0", "T0", "T0"]
    assert best != old
    known = planned(tmp_path, drill, "--known", as_json(tmp_path, old))
    assert fingerings(known["plans"][0]) == old


def test_other_tuning(drill, tmp_path):
    """With the F side in E, written G4 is no longer open there."""
    found = planned(tmp_path, drill, "--tuned", "F=E", "--tempo", 30)["plans"][0]
    assert fingerings(found)[1] != "0"
    low = planned(tmp_path, drill, "--tuned", "F=E", "--tuned", "Bb=A", "--tempo", 30)
    assert fingerings(low["plans"][0])[:2] == ["2", "23"]


def test_bars(drill, tmp_path):
    found = planned(tmp_path, drill, "--bars", "2")["plans"][0]
    assert [note["written"] for note in found["notes"]] == ["C5", "F4"]
    assert [note["index"] for note in found["notes"]] == [0, 1]


def test_other_instruments(drill, tmp_path):
    found = planned(tmp_path, drill, "--instrument", "trumpet")
    assert found["instrument"] == "trumpet"
    assert {note["side"] for note in found["plans"][0]["notes"]} == {""}


def test_the_strip_and_the_reasons(drill, capsys):
    assert main(["fingering", str(drill)]) == 0
    shown = capsys.readouterr().out
    assert "A turn of our own, double horn, 138 a minute" in shown
    lines = shown.splitlines()
    strip = lines.index("  F4   G4   Ab4  Bb4  Ab4  G4   F4   C5   F4")
    assert lines[strip + 1].split()[:7] == ["1", "0", "1", "1", "1", "0", "1"]
    assert "  notes 3, 5: spares" in shown
    assert "seventh partial, 31 cents flat" in shown
    assert "plan 2, cost" in shown
    assert "*" in shown
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in shown


def test_plans_close_to_each_other_are_to_be_tried(capsys):
    assert main(["fingering", "fourth-higher"]) == 0
    shown = capsys.readouterr().out
    assert "Plan 1 and plan 2 are close: try both" in shown
    assert "--fingering 1" in shown
    assert "--fingering 2" in shown


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    assert main(["fingering", *map(str, arguments)]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("coach: ")
    assert lines[0].endswith(".")
    return lines[0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--tempo", "0"], "--tempo 0 is out of range"),
        (["--tempo", "nan"], "is out of range"),
        (["--alternatives", "0"], "give 1 to 5"),
        (["--bars", "9"], "there are no bars 9"),
        (["--bars", "0-2"], "there are no bars 0-2"),
        (["--bars", "²"], "no range of bars"),
        (["--bars", "3-1"], "3-1"),
        (["--variant", "5"], "--variant 5 is not in this drill"),
        (["--part", "1"], "leave --part out"),
        (["--instrument", "kazoo"], "kazoo"),
        (["--tuned", "F"], "F=E"),
        (["--tuned", "C=E"], "C=E"),
        (["--fixed", "missing.json"], "can't be read"),
        (["--known", "missing.json"], "can't be read"),
        (["--json", "/no/such/folder/out.json"], "can't be written"),
    ],
)
def test_bad_options(drill, capsys, options, words):
    assert words in refused(capsys, drill, *options)


def test_no_such_drill(capsys):
    assert 'there is no drill "fourth-highr"' in refused(capsys, "fourth-highr")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("[1, 2", "not JSON"),
        ("\ufeff[", "not JSON"),
        ('{"0": "T0"}', "not a list of fingerings"),
        ("[1, 2]", "not a list of fingerings"),
        ('["0", "1"]', "2 fingerings for 9 notes"),
        (json.dumps(["1", "0", "23", "1", "12", "0", "1", "T0", "1"]), "note 5"),
        (json.dumps(["0"] * 9), "0 doesn't give written F4; choose from"),
        (json.dumps(["x"] * 9), "x doesn't give written F4"),
    ],
)
@pytest.mark.parametrize("option", ["--fixed", "--known"])
def test_bad_fingerings(drill, tmp_path, capsys, option, content, words):
    path = tmp_path / "bad.json"
    path.write_text(content, encoding="utf-8")
    assert words in refused(capsys, drill, option, path)


def test_a_fingering_file_that_is_no_text(drill, tmp_path, capsys):
    path = tmp_path / "bad.json"
    path.write_bytes(b"\xff\xfe\x00[")
    assert "not JSON" in refused(capsys, drill, "--fixed", path)


def test_a_fingering_file_that_is_not_there(drill, tmp_path, capsys):
    told = refused(capsys, drill, "--fixed", tmp_path / "none.json")
    assert "can't be read (no such file or directory); check the name" in told
    assert "this is a folder" in refused(capsys, drill, "--fixed", tmp_path)


def test_a_note_out_of_range(tmp_path, capsys):
    path = tmp_path / "deep.toml"
    path.write_text(DRILL.replace("C5 1/8", "C1 1/8"), encoding="utf-8")
    assert "C1" in refused(capsys, path)


def test_a_note_that_the_tuned_horn_lacks(tmp_path, capsys):
    path = tmp_path / "high.toml"
    path.write_text(DRILL.replace("C5 1/8", "F6 1/8"), encoding="utf-8")
    assert "written F6 can't be played" in refused(capsys, path, "--tuned", "Bb=A")


def test_a_fingering_marked_in_the_drill_that_gives_another_note(tmp_path, capsys):
    path = tmp_path / "marked.toml"
    path.write_text(DRILL.replace("C5 1/8", "C5 1/8 T2"), encoding="utf-8")
    line = refused(capsys, path)
    assert "note 8" in line
    assert "T2 doesn't give written C5" in line
