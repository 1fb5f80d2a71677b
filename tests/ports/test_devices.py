"""Devices by name and number, a missing library, the settings."""

from __future__ import annotations

import builtins
import tomllib
from pathlib import Path

import pytest

from coach.errors import CoachError, DeviceError
from coach.ports.devices import SoundDevice, find, import_sounddevice
from coach.ports.settings import SoundSettings

CARDS = [
    SoundDevice(0, "Desk", "ALSA", 2, 2, 48_000),
    SoundDevice(3, "Desk Pro", "ALSA", 2, 0, 48_000),
    SoundDevice(5, "Desk Pro", "JACK", 2, 0, 48_000),
]


def test_the_whole_name_goes_before_a_part_of_it():
    assert find(CARDS, "desk", "sound input").number == 0
    assert find(CARDS, " 5 ", "sound input").host == "JACK"


def test_several_that_fit_are_listed():
    with pytest.raises(CoachError) as error:
        find(CARDS, "pro", "sound input")
    assert str(error.value) == (
        "'pro' fits several sound inputs; choose by number: 3 Desk Pro (ALSA); 5 Desk Pro (JACK)."
    )


def test_none_that_fits_lists_them_all():
    with pytest.raises(CoachError, match="there is no sound input '7'; there are: 0 Desk"):
        find(CARDS, "7", "sound input")


def test_without_portaudio_it_says_what_to_install(monkeypatch):
    real = builtins.__import__

    def refuse(name, *rest, **more):
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(DeviceError, match="apt-get install libportaudio2") as error:
        import_sounddevice()
    assert error.value.exit_status == 3


def test_the_settings_that_come_with_the_coach_are_the_defaults():
    path = Path(__file__).resolve().parents[2] / "configs" / "sound.toml"
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert SoundSettings.from_table(table) == SoundSettings()
    assert set(table) == set(SoundSettings.__dataclass_fields__)


@pytest.mark.parametrize(
    ("table", "what"),
    [
        ({"speed": 1}, "sound.toml: 'speed' is unknown here; known are engine"),
        ({"rate": "fast"}, "rate = 'fast' is not a whole number"),
        ({"rate": True}, "rate = True is not a whole number"),
        ({"lead_s": "0.3"}, "lead_s = '0.3' is not a number"),
        ({"rate": 10}, "rate = 10 is out of range; use 8000 to 192000"),
        ({"engine": "rust"}, "engine = 'rust' is unknown; use one of c, python"),
        ({"lead_s": float("nan")}, "lead_s = nan is out of range"),
    ],
)
def test_bad_settings_are_refused_in_one_sentence(table, what):
    with pytest.raises(CoachError) as error:
        SoundSettings.from_table(table)
    assert what in str(error.value)
