"""Several sound interfaces with the same cards, as Windows has them; a stand-in lists them."""

from __future__ import annotations

import sys
import unicodedata

import pytest

from coach.errors import CoachError, DeviceError
from coach.ports.devices import MidiDevice, find, find_pair, import_sounddevice
from coach.ports.settings import SoundSettings
from coach.ports.stream import chosen_devices, stream_arguments

HOSTS = ("MME", "Windows DirectSound", "Windows WASAPI")
# Name, host, inputs, outputs.  MME cuts names off after 31 letters.
CARDS = (
    ("Mikrofon (Blechbläser Interface", 0, 2, 0),
    ("Lautsprecher (Realtek Audio)", 0, 0, 2),
    ("Mikrofon (Blechbläser Interface USB)", 1, 2, 0),
    ("Lautsprecher (Realtek Audio)", 1, 0, 2),
    ("Lautsprecher (Realtek Audio)", 2, 0, 2),
    ("Mikrofon (Blechbläser Interface USB)", 2, 2, 0),
    ("Mikrofon (Realtek Audio)", 2, 2, 0),
)


class Windows:
    """Shared WASAPI does what it is told only if it may convert."""

    class PortAudioError(Exception):
        pass

    class WasapiSettings:
        def __init__(self, *, auto_convert):
            self.auto_convert = auto_convert

    class default:  # noqa: N801
        device = (0, 1)

    def query_hostapis(self):
        chosen = ((0, 1), (2, 3), (5, 4))
        return [
            {"name": name, "default_input_device": first, "default_output_device": second}
            for name, (first, second) in zip(HOSTS, chosen, strict=True)
        ]

    def query_devices(self):
        keys = ("name", "hostapi", "max_input_channels", "max_output_channels")
        return [
            {**dict(zip(keys, card, strict=True)), "default_samplerate": 44100.0} for card in CARDS
        ]

    def check_output_settings(self, number, samplerate, extra_settings=None):
        converts = CARDS[number][1] != 2 or getattr(extra_settings, "auto_convert", False)
        if samplerate != 44100 and not converts:
            raise self.PortAudioError("Invalid sample rate", -9997)

    check_input_settings = check_output_settings


@pytest.fixture(autouse=True)
def windows(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", Windows())


def numbers(source=None, output=None):
    return tuple(device.number for device in find_pair(source, output))


def test_a_card_that_is_listed_under_several_interfaces_is_that_of_the_usual_one():
    assert numbers() == (0, 1)
    assert numbers("blechbläser", "realtek") == (0, 1)
    assert numbers(unicodedata.normalize("NFD", "BLECHBLÄSER")) == (0, 1)


def test_what_was_not_named_is_of_the_same_interface():
    """PortAudio calls two of them an "illegal combination" (paBadIODeviceCombination)."""
    assert numbers("5") == (5, 4)
    assert numbers(None, "4") == (5, 4)
    assert numbers("Mikrofon (Blechbläser Interface USB)") == (2, 3)
    assert numbers("blechbläser", "4") == (5, 4)
    # As `coach devices` lists it.
    assert numbers("Mikrofon (Blechbläser Interface USB) (Windows WASAPI)", "Laut") == (5, 4)


def test_two_that_never_go_together_are_told_with_their_interfaces():
    with pytest.raises(CoachError) as told:
        find_pair("5", "3")
    assert "(Windows WASAPI) and Lautsprecher (Realtek Audio) (Windows DirectSound)" in str(
        told.value
    )


def test_shared_wasapi_is_asked_to_convert_and_others_are_left_alone():
    inputs = (1,)
    pair = chosen_devices("5", None, inputs=inputs)
    arguments = stream_arguments(SoundSettings(), *pair, inputs=inputs)
    assert arguments["samplerate"] == 48000
    assert arguments["device"] == (5, 4)
    assert all(extra.auto_convert for extra in arguments["extra_settings"])
    alone = stream_arguments(SoundSettings(), None, pair[1], inputs=())
    assert alone["extra_settings"].auto_convert
    pair = chosen_devices("0", None, inputs=inputs)
    assert "extra_settings" not in stream_arguments(SoundSettings(), *pair, inputs=inputs)


def test_odd_numbers_are_names():
    """Not all that looks like a number can be read as one."""
    devices = [MidiDevice(0, "Keys²"), MidiDevice(1, "Pedal")]
    assert find(devices, "²", "MIDI input").number == 0
    with pytest.raises(CoachError, match="there is no MIDI input"):
        find(devices, "³", "MIDI input")


@pytest.mark.parametrize(("platform", "hint"), [("linux", "apt-get"), ("win32", "pip install")])
def test_a_missing_library_is_got_where_the_system_gets_it(monkeypatch, platform, hint):
    class Refuses:
        def find_spec(self, name, path=None, target=None):
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice")
    monkeypatch.setattr(sys, "meta_path", [Refuses(), *sys.meta_path])
    monkeypatch.setattr(sys, "platform", platform)
    with pytest.raises(DeviceError, match=hint):
        import_sounddevice()
