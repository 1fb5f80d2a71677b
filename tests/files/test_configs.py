"""Rule sets, instruments, and where the data lies, in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.core.pitch import hz_of_midi, midi_of_name
from coach.core.rules import Rules
from coach.errors import FileError
from coach.files import configs
from coach.files.toml import read_toml

ROOT = Path(__file__).resolve().parents[2]


def test_normal_is_as_promised():
    """The default tolerances of the agreed interface: 25 ms / 20 %, 50 ms / 45 %, offset to 60 ms,
    50 cents, split from 20 ms, muffled from 10 dB."""
    rules = configs.load_rules("normal")
    assert (rules.tolerance_ms, rules.tolerance_share) == (25, 0.2)
    assert (rules.window_ms, rules.window_share) == (50, 0.45)
    assert (rules.offset_limit_ms, rules.pitch_cents) == (60, 50)
    assert (rules.split_ms, rules.muffled_db) == (20, 10)
    assert rules == Rules()


@pytest.mark.parametrize("text", ["", "keys = 3", "[keys]\n[pedal]\nmixer = []"])
def test_keys_without_a_table(text, tmp_path, monkeypatch):
    (tmp_path / "keys.toml").write_text(text)
    monkeypatch.setattr(configs, "data_folder", lambda _: tmp_path)
    with pytest.raises(FileError, match=r"there is no table \[(keys|mixer)\]"):
        configs.load_keys()


def test_the_sets_go_from_kind_to_strict():
    easy, normal, strict = (configs.load_rules(name) for name in ("easy", "normal", "strict"))
    assert configs.rules_names()[0] == "normal"
    # Beginner, default and strict tolerance of the design: 50, 25 and 15 ms.
    assert [r.tolerance_ms for r in (easy, normal, strict)] == [50, 25, 15]
    for name in Rules.names():
        figures = [getattr(r, name) for r in (easy, normal, strict)]
        assert figures in (sorted(figures), sorted(figures, reverse=True)), name
    # A window of half an interval or more could take a note for its neighbour.
    assert all(r.window_share < 0.5 for r in (easy, normal, strict))


def test_every_figure_has_its_reason():
    text = (configs.data_folder("configs") / "rules.toml").read_text(encoding="utf-8")
    figures = [line for line in text.splitlines() if "=" in line and not line.startswith("#")]
    assert len(figures) == 3 * len(Rules.names())
    assert all("#" in line for line in figures)


# Written lowest and highest notes of published fingering charts (maker's charts for horn with
# pedals and top extension, trumpet, trombone; euphonium with compensating valves), and the sounding
# frequency in Hz that equal temperament gives them; transpositions from handbook tables.
RANGES = {
    "double-horn": (-7, "C2", "F6", 43.65, 932.33),
    "horn-f": (-7, "C2", "C6", 43.65, 698.46),
    "trumpet": (-2, "F#3", "C6", 164.81, 932.33),
    "cornet": (-2, "F#3", "C6", 164.81, 932.33),
    "flugelhorn": (-2, "F#3", "C6", 164.81, 932.33),
    "trumpet-c": (0, "F#3", "C6", 185.00, 1046.50),
    "tenor-horn": (-9, "F#3", "C6", 110.00, 622.25),
    "euphonium": (0, "B1", "Bb4", 61.74, 466.16),
    "euphonium-treble": (-14, "C#3", "C6", 61.74, 466.16),
    "trombone": (0, "E1", "F5", 41.20, 698.46),
}


@pytest.mark.parametrize("name", RANGES)
def test_instruments_as_in_the_handbooks(name):
    transposition, low, high, low_hz, high_hz = RANGES[name]
    instrument = configs.load_instrument(name)
    assert instrument.transposition == transposition
    assert instrument.lowest == midi_of_name(low) + transposition
    assert instrument.highest == midi_of_name(high) + transposition
    assert hz_of_midi(instrument.lowest) == pytest.approx(low_hz, abs=0.006)
    assert hz_of_midi(instrument.highest) == pytest.approx(high_hz, abs=0.006)
    assert instrument.reaches(instrument.lowest)
    assert not instrument.reaches(instrument.highest + 1)


def test_every_instrument_loads():
    names = configs.instrument_names()
    assert {"double-horn", "trumpet", "cornet", "euphonium", "trombone", "tuba"} <= set(names)
    for name in names:
        instrument = configs.load_instrument(name)
        assert instrument.name == name
        assert instrument.highest - instrument.lowest > 24


def test_unknown_names_list_what_there_is():
    with pytest.raises(FileError, match=r'no rule set "strct".*did you mean strict.*easy, normal'):
        configs.load_rules("strct")
    with pytest.raises(FileError, match=r'^there is no instrument "hornf"; did you mean horn-f'):
        configs.load_instrument("hornf")
    with pytest.raises(FileError, match="no instrument"):
        configs.load_instrument("../rules")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('title = "x"\nlowest = 30\nhighest = 20\ntransposition = 0', "highest is 20; it must be"),
        ('title = "x"\nlowest = 30\nhighest = 50', "transposition is missing"),
        ("title = 3\nlowest = 30\nhighest = 50\ntransposition = 0", "title is 3; it must be text"),
        (
            'title = "x"\nlowest = 1\nhighest = 2\ntransposition = 0\ntransposed = 1',
            "unknown key transposed = 1; did you mean transposition",
        ),
    ],
)
def test_bad_instruments(tmp_path, text, message):
    path = tmp_path / "odd.toml"
    path.write_text(text)
    with pytest.raises(FileError) as caught:
        configs.read_instrument(path)
    assert message in str(caught.value)
    assert "odd.toml" in str(caught.value)


def test_bad_toml_names_the_line(tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text("a = 1\nb = = 2\n")
    with pytest.raises(FileError, match=r"odd\.toml, line 2: this is not TOML"):
        read_toml(path)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"\xff\xfe\x00", "not a text file"),
        (b"a = " + b"[" * 100_000, "brackets too deep"),
        (b"a = " + b"9" * 5000, "number is too long"),
        (b"#" * 1_000_001, "over a megabyte"),
        (b"a = 'x", "not TOML"),
    ],
)
def test_hopeless_files(tmp_path, content, message):
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    with pytest.raises(FileError, match=message):
        read_toml(path)


def test_no_file_and_a_folder(tmp_path):
    with pytest.raises(FileError, match="no such file"):
        read_toml(tmp_path / "none.toml")
    with pytest.raises(FileError, match="folder"):
        read_toml(tmp_path)
    with pytest.raises(FileError, match="can't be read"):
        read_toml(Path("a\0b"))


def test_own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    assert configs.own_folder() == tmp_path
    monkeypatch.delenv("COACH_HOME")
    assert "evenrun" in configs.own_folder().parts


def test_missing_data_is_told(monkeypatch):
    with pytest.raises(FileError, match="the folder nonesuch is missing"):
        configs.data_folder("nonesuch")


def test_keys_and_sound_are_read():
    assert isinstance(configs.load_keys(), dict)
    assert isinstance(configs.load_sound(), dict)
