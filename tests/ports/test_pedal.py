"""The pedal: raw MIDI messages to commands.

Status bytes and switch values from the MIDI 1.0 specification (from memory): 0xB0 + channel control
change, 0x90 note on, 0x80 note off, note on with velocity 0 is a note off; controllers 64 to 69 are
switches, 0 to 63 off, 64 to 127 on; 64 damper, 66 sostenuto, 67 soft.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from coach.errors import CoachError
from coach.ports.keys import COMMANDS
from coach.ports.pedal import Pedal

CONFIG = Path(__file__).parents[2] / "configs" / "keys.toml"
MAPPING = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["pedal"]


def given(pedal: Pedal, *messages: str) -> list[str]:
    for message in messages:
        pedal.take(list(bytes.fromhex(message)))
    return pedal.poll()


def test_the_three_pedals() -> None:
    assert given(Pedal(MAPPING), "B0 40 7F", "B0 42 7F", "B0 43 7F") == ["go", "again", "slower"]


def test_one_command_a_press_whatever_lies_between() -> None:
    pedal = Pedal(MAPPING)
    assert given(pedal, "B0 40 10", "B0 40 3F") == []
    assert given(pedal, "B0 40 40", "B0 40 60", "B0 40 7F") == ["go"]
    assert given(pedal, "B0 40 20", "B0 40 00", "B0 40 7F") == ["go"]


def test_chosen_notes_are_commands_and_are_taken_from_the_judge() -> None:
    pedal = Pedal({"notes": {"go": [36]}})
    assert pedal.take([0x90, 36, 100])
    assert pedal.take([0x90, 36, 0])
    assert pedal.take([0x80, 36, 64])
    assert not pedal.take([0x90, 60, 100])
    assert not pedal.take([0xB0, 1, 100])
    assert pedal.poll() == ["go"]
    assert pedal.poll() == []


def test_only_its_channel() -> None:
    pedal = Pedal({"channel": 3, "controllers": {"quit": [64]}})
    assert given(pedal, "B0 40 7F") == []
    assert given(pedal, "B2 40 7F") == ["quit"]


@pytest.mark.parametrize("message", ["", "F8", "C0 05", "F0 7E 7F F7", "E0 40 7F"])
def test_other_messages_are_left_alone(message: str) -> None:
    assert not Pedal(MAPPING).take(list(bytes.fromhex(message)))


def test_file_names_every_command() -> None:
    assert set(MAPPING["controllers"]) == set(MAPPING["notes"]) == set(COMMANDS)


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        ({"kontrollers": {}}, "'kontrollers' is unknown here"),
        ({"channel": 17}, "channel has 17"),
        ({"controllers": {"go": [128]}}, "go has 128"),
        ({"controllers": {"go": [True]}}, "go has True"),
        ({"notes": {"go": ["C2"]}}, "go has 'C2'"),
        ({"notes": {"start": [36]}}, "'start' is not a command"),
        ({"notes": {"go": [36], "again": [36]}}, "36 stands under go and again"),
    ],
)
def test_errors_name_the_key_and_the_value(mapping: dict, said: str) -> None:
    with pytest.raises(CoachError) as caught:
        Pedal(mapping)
    assert caught.value.what == said
    assert caught.value.hint
