"""`coach passage`, and drills straight from scores: files of our own, the fields of its JSON."""

from __future__ import annotations

import json
import shutil
import tomllib

import pytest

from coach.cli import main
from coach.files.configs import own_folder
from coach.files.drillfile import read_drill
from tests.files.musicxml.making import attributes, bars, note, partwise

IN_F = "<transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose>"
RUN = "".join(note(p, 1) for p in ("G4", "A4", "B4", "C5", "D5", "C5", "B4", "A4") * 2)
TEMPO = '<direction><sound tempo="144"/></direction>'


def horn(*contents):
    return bars(*contents, first=TEMPO + attributes("<key><fifths>1</fifths></key>" + IN_F, 4))


@pytest.fixture
def march(tmp_path, monkeypatch):
    """Two horns and an oboe; the first horn has a run in bars 2 and 3."""
    monkeypatch.chdir(tmp_path)
    first = horn(note("G4", 16), RUN, RUN, note("G4", 16))
    second = horn(*[note("D4", 16)] * 4)
    oboe = bars(*[note("C5", 4)] * 4)
    data = partwise(first, second, oboe, names=("Horn in F 1", "Horn in F 2", "Oboe"))
    (tmp_path / "march.musicxml").write_bytes(data)
    return "march.musicxml"


def told(path):
    return json.loads(path.read_text(encoding="utf-8"))


def test_bars_of_a_part_as_json(march, tmp_path):
    out = tmp_path / "out.json"
    assert (
        main(["passage", march, "--part", "Horn in F 1", "--bars", "2-3", "--json", str(out)]) == 0
    )
    result = told(out)
    assert result["instrument"] == "double-horn"
    assert result["meter_changes"] == [{"onset_beats": "0", "meter": "4/4"}]
    assert result["tempo_changes"] == [{"onset_beats": "0", "quarter_bpm": 144.0}]
    assert len(result["notes"]) == 32
    assert result["notes"][17] == {
        "bar": 3,
        "beat": "5/4",
        "onset_beats": "17/4",
        "duration_beats": "1/4",
        "midi": 62,
        "written": "A4",
        "slurred": False,
        "grace": False,
        "tied": False,
        "fingering": None,
        "syllable": None,
        "marks": [],
    }


def test_without_a_part_the_first_brass_part_is_told(march, tmp_path):
    out = tmp_path / "out.json"
    assert main(["passage", march, "--json", str(out)]) == 0
    assert (told(out)["part"], len(told(out)["parts"])) == ("Horn in F 1", 3)


def test_all_parts_at_a_glance(march, capsys):
    assert main(["passage", march]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "1 ● Horn in F 1 F G" in text
    assert "bars 2-4: 9.6, tongued" in text
    assert "3 Oboe" in text


def test_hard_places_and_how_to_practise_them(march, tmp_path, capsys):
    assert main(["passage", march, "--part", "1", "--hard", "3"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "2-3 9.6 notes a second" in text
    assert "coach drill march.musicxml --part 1 --bars 2-3" in text
    out = tmp_path / "hard.json"
    assert main(["passage", march, "--hard", "3", "--json", str(out)]) == 0
    assert told(out)["places"][0]["command"].endswith("--part 1 --bars 2-3")


def test_hard_places_as_drill_files(march, tmp_path):
    assert main(["passage", march, "--part", "1", "--hard", "1", "--out", "run.toml"]) == 0
    drill, _ = read_drill(tmp_path / "run-1.toml")
    assert len(drill.variants[0].notes) == 32
    assert (drill.from_bpm, drill.to_bpm) == (86, 144)


def test_the_bars_in_words(march, capsys):
    assert main(["passage", march, "--part", "2", "--bars", "3-4"]) == 0
    out = capsys.readouterr().out
    assert "bar 3:  D4 1" in out
    assert "144 clicks a minute" in out


@pytest.mark.parametrize("suffix", [".toml", ".musicxml", ".mid", ".abc"])
def test_written_and_read_again_it_is_the_same(march, tmp_path, suffix):
    chosen = ["--part", "1", "--bars", "2-3"]
    name = f"run{suffix}"
    assert main(["passage", march, *chosen, "--out", name, "--fingering", "--tonguing"]) == 0
    if suffix == ".toml":
        drill, _ = read_drill(tmp_path / name)
        notes = [(n.pitch, str(n.start_beats)) for n in drill.variants[0].notes]
        assert drill.variants[0].notes[0].fingering
    else:
        again = ["passage", name, "--json", "again.json", "--instrument", "double-horn"]
        assert main(again) == 0
        notes = [(n["midi"], n["onset_beats"]) for n in told(tmp_path / "again.json")["notes"]]
        assert told(tmp_path / "again.json")["notes"][0]["written"] == "G4"
        assert told(tmp_path / "again.json")["notes"][0]["fingering"]
        assert told(tmp_path / "again.json")["notes"][0]["syllable"]
    assert main(["passage", march, *chosen, "--json", "first.json"]) == 0
    assert notes == [(n["midi"], n["onset_beats"]) for n in told(tmp_path / "first.json")["notes"]]


def test_a_drill_can_be_written_too(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["passage", "written-out", "--out", "w.abc"]) == 0
    assert "K:" in (tmp_path / "w.abc").read_text(encoding="utf-8")
    assert main(["passage", "written-out", "--out", "w.abc"]) == 2
    assert "there is a file already" in capsys.readouterr().err
    assert main(["passage", "written-out", "--out", "no/w.abc"]) == 2
    assert "can't be written (no such file or directory)" in capsys.readouterr().err
    assert not (tmp_path / "no").exists()
    own = own_folder() / "drills" / "w.toml"
    assert main(["passage", "written-out", "--out", str(own)]) == 0
    assert own.exists()


def test_a_drill_has_no_parts_to_tell(march, tmp_path, capsys):
    assert main(["passage", "written-out"]) == 2
    told = "written-out: this is a drill, not a score; write it with --out FILE, or print it: coach"
    assert f"{told} sheet written-out." in capsys.readouterr().err
    # A score of that name, told by what is in it.
    shutil.copy(march, tmp_path / "written-out")
    assert main(["passage", "written-out"]) == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (
            ["--part", "Tuba"],
            'there is no part "Tuba"; choose from 1 (Horn in F 1), 2',
        ),
        (["--bars", ""], "--bars is empty; write 41-44"),
        (["--bars", "9"], "march.musicxml: there is no bar 9; the bars are 1 to 4."),
        (["--horn-in", "Q"], 'there is no horn in "Q"'),
        (["--horn-in", "Bb"], "Bb alto or Bb basso"),
        (["--hard", "0"], "--hard 0 is out of range"),
        (["--part", "1", "--out", "x.doc"], 'x.doc: the ending ".doc" is unknown'),
        (["--out", "x.mid"], "it has 3 parts; choose one with --part"),
        (["--part", "1", "--divisi", "5"], 'no notes in a voice "5"'),
        (["--instrument", "kazoo", "--bars", "1"], "kazoo"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(march, capsys, options, said):
    assert main(["passage", march, *options]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


def test_read_in_another_crook(march, tmp_path):
    out = tmp_path / "out.json"
    assert main(["passage", march, "--horn-in", "D", "--bars", "1", "--json", str(out)]) == 0
    [only] = told(out)["notes"]
    assert (only["written"], only["midi"]) == ("G4", 57)


def test_a_midi_file_is_spelled_for_its_instrument(march, tmp_path):
    assert main(["passage", march, "--part", "1", "--out", "run.mid"]) == 0
    out = tmp_path / "out.json"
    assert main(["passage", "run.mid", "--json", str(out)]) == 0
    assert (told(out)["notes"][0]["written"], told(out)["notes"][0]["midi"]) == ("G4", 60)


def test_other_commands_take_bars_of_a_score(march, tmp_path):
    chosen = ["--part", "1", "--bars", "2"]
    for command in ("fingering", "tonguing"):
        out = tmp_path / f"{command}.json"
        assert main([command, march, *chosen, "--json", str(out)]) == 0
        result = told(out)
        notes = result["plans"][0]["notes"] if command == "fingering" else result["notes"]
        assert len(notes) == 16
    options = ["--input", "player", "--fast", "--takes", "1", "--plain", "--events", "e.jsonl"]
    assert main(["drill", march, *chosen, *options]) == 0
    start = json.loads((tmp_path / "e.jsonl").read_text(encoding="utf-8").splitlines()[0])
    assert (start["notes"], start["expected"][0]["midi"]) == (16, 60)


def test_bars_of_a_drill(tmp_path, capsys):
    out = tmp_path / "out.json"
    assert main(["fingering", "written-out", "--bars", "1", "--json", str(out)]) == 0
    assert main(["fingering", "written-out", "--bars", "99"]) == 2
    assert "there are no bars 99" in capsys.readouterr().err
    assert main(["fingering", "written-out", "--part", "1"]) == 2
    assert "a drill has no parts" in capsys.readouterr().err


def test_notes_beyond_the_instrument(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    data = partwise(bars(note("C7", 4)), names=("Horn in F",))
    (tmp_path / "high.xml").write_bytes(data)
    assert main(["drill", "high.xml"]) == 2
    err = capsys.readouterr().err
    assert "bar 1 of Horn in F: written G7 can't be played on the double horn" in err


def test_a_part_for_another_instrument_moves_by_octaves(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    data = partwise(bars(note("C7", 4)), names=("Piccolo",))
    (tmp_path / "high.xml").write_bytes(data)
    assert main(["passage", "high.xml", "--out", "low.toml"]) == 0
    drill = tomllib.loads((tmp_path / "low.toml").read_text(encoding="utf-8"))
    assert drill["passage"]["notes"] == ["G5 1/1"]
