"""player.toml: the comfortable range that a player has told."""

from __future__ import annotations

import pytest

from coach.core.pitch import midi_of_name
from coach.core.warmup import comfortable_of
from coach.errors import FileError
from coach.files.configs import instrument_names, load_instrument
from coach.files.player import keep_range, kept_range


@pytest.fixture(autouse=True)
def home(monkeypatch, tmp_path):
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_never_told():
    assert kept_range(load_instrument("trumpet")) is None


def test_written_notes_are_kept_by_instrument(home):
    """Horn in F: written C3 and G5 sound a fifth lower (handbooks of transposition)."""
    horn, trumpet = load_instrument("double-horn"), load_instrument("trumpet")
    keep_range(trumpet, comfortable_of(trumpet))
    low, high = midi_of_name("F2"), midi_of_name("C5")
    keep_range(horn, (low, high))
    text = (home / "player.toml").read_text("utf-8")
    assert '[comfortable.double-horn]\nlow = "C3"\nhigh = "G5"\n' in text
    assert kept_range(horn) == (low, high)
    assert kept_range(trumpet) == comfortable_of(trumpet)
    keep_range(horn, (low + 1, high))
    assert kept_range(horn) == (low + 1, high)
    assert [path.name for path in home.iterdir()] == ["player.toml"]


@pytest.mark.parametrize("name", instrument_names())
def test_every_instrument_round_trips(name):
    instrument = load_instrument(name)
    keep_range(instrument, comfortable_of(instrument))
    assert kept_range(instrument) == comfortable_of(instrument)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            '[comfortable.trumpet]\nlow = "H4"\nhigh = "C5"',
            'low is "H4"; it must be a written note',
        ),
        ('[comfortable.trumpet]\nlow = "C4"', "comfortable.trumpet.high is missing"),
        ('[comfortable.trumpet]\nlow = "C5"\nhigh = "C4"', "a fifth or wider"),
        ('[comfortable.trumpet]\nlow = "C1"\nhigh = "C5"', "reaches from F#3 to C6, written"),
        ('[comfortable.trumpet]\nlow = "C4"\nhigh = "C5"\nmid = 3', "unknown key"),
        ('[comfortable.trumpt]\nlow = "C4"\nhigh = "C5"', 'no instrument "trumpt"; did you mean'),
        ("[comfort]", "unknown key comfort"),
        ("comfortable = 3", "it must be a table"),
        ("[comfortable", "not TOML"),
    ],
)
def test_mistakes_are_named(home, text, message):
    home.mkdir()
    (home / "player.toml").write_text(text, "utf-8")
    with pytest.raises(FileError) as caught:
        kept_range(load_instrument("trumpet"))
    assert message in str(caught.value)
    assert "player.toml" in str(caught.value)


def test_a_spoilt_file_is_not_written_over(home):
    home.mkdir()
    (home / "player.toml").write_text("[comfortable", "utf-8")
    trumpet = load_instrument("trumpet")
    with pytest.raises(FileError, match="not TOML"):
        keep_range(trumpet, comfortable_of(trumpet))
    assert (home / "player.toml").read_text("utf-8") == "[comfortable"


def test_where_it_cannot_be_written(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "file"))
    trumpet = load_instrument("trumpet")
    with pytest.raises(FileError, match="the range can't be kept"):
        keep_range(trumpet, comfortable_of(trumpet))


def test_what_is_no_range_is_not_kept(home):
    with pytest.raises(ValueError, match="a fifth or wider"):
        keep_range(load_instrument("trumpet"), (60, 60))
    assert not home.exists()
