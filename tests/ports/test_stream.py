"""Opening and closing streams, with a sound library that does as it is told."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from types import SimpleNamespace

import pytest

from coach.errors import DeviceError
from coach.ports import leaving, stream
from coach.ports.devices import SoundDevice, find_sound
from coach.ports.leaving import leave
from coach.ports.settings import SoundSettings
from coach.ports.stream import (
    chosen_devices,
    close_stream,
    device_errors,
    renew_devices,
    stream_arguments,
)

BUSY = -9985


class Library:
    """A stand-in for sounddevice: devices as (name, host, rates that it can do)."""

    class PortAudioError(Exception):
        pass

    def __init__(self, *devices, busy=()):
        self.there = self._listed = list(devices)
        self.busy, self._initialized = set(busy), 1
        self.default = SimpleNamespace(device=(0, 0))
        self.closed = []

    def query_hostapis(self):
        return [{"name": "ALSA"}, {"name": "JACK Audio Connection Kit"}]

    def query_devices(self):
        return [
            {
                "name": name,
                "hostapi": host,
                "max_input_channels": 2,
                "max_output_channels": 2,
                "default_samplerate": float(rates[0]),
            }
            for name, host, rates in self._listed
        ]

    def _terminate(self):
        self._initialized -= 1

    def _initialize(self):
        self._initialized += 1
        self._listed = list(self.there)

    def check_output_settings(self, number, samplerate):
        name, _, rates = self._listed[number]
        if name in self.busy:
            raise self.PortAudioError("Device unavailable", BUSY)
        if samplerate not in rates:
            raise self.PortAudioError("Invalid sample rate", -9997)

    check_input_settings = check_output_settings

    def _exit_handler(self):
        self.closed.append("library")


@pytest.fixture
def library(monkeypatch):
    def made(*devices, **more):
        one = Library(*devices, **more)
        monkeypatch.setitem(sys.modules, "sounddevice", one)
        return one

    return made


DESK, USB = ("Desk", 0, (48000, 44100)), ("USB Horn: Audio (hw:1,0)", 0, (48000,))


def rate_of(source, output):
    return stream_arguments(
        SoundSettings(), *chosen_devices(source, output, inputs=(1,)), inputs=(1,)
    )["samplerate"]


@pytest.mark.parametrize(
    ("source", "output", "rate"),
    [
        ((44100, 48000), (48000,), 48000),  # the wanted one, though it is not the usual one
        ((44100,), (44100, 48000), 44100),
        ((96000, 44100), (96000,), 96000),
        ((16000, 44100), (32000, 44100), 44100),  # neither's own
        ((16000,), (32000,), 48000),  # none: opening will say so
    ],
)
def test_the_rate_is_one_that_both_can_do(library, source, output, rate):
    library(("In", 0, source), ("Out", 0, output))
    assert rate_of("In", "Out") == rate


def test_a_device_that_is_in_use_is_one_sentence(library):
    used = library(DESK, busy=["Desk"])
    assert rate_of(None, None) == 48000
    for error in (
        used.PortAudioError("Error opening Stream: Device unavailable", BUSY),
        used.PortAudioError("Unanticipated host error", -9999, (0, -16, "Device or resource busy")),
    ):
        with pytest.raises(DeviceError) as told, device_errors("Desk"):
            raise error
        assert str(told.value) == (
            "Desk: another program is using it; close that, or choose another with --device."
        )


def test_other_errors_say_what_the_library_says(library):
    one = library(DESK)
    with pytest.raises(DeviceError) as told, device_errors("Desk"):
        raise one.PortAudioError("Bad thing")
    assert str(told.value).startswith("Desk: it could not be started (Bad thing); close")
    assert told.value.exit_status == 3


def test_the_same_device_is_found_again_under_another_number(library):
    used = library(DESK, USB)
    before = chosen_devices("usb", "usb", inputs=(1,))
    used.there = [DESK]
    renew_devices()
    with pytest.raises(DeviceError, match=r"USB Horn.*it is not there; plug it in"):
        chosen_devices(*before, inputs=(1,))
    used.there = [("USB Horn: Audio (hw:2,0)", 0, (48000,)), DESK, USB]
    renew_devices()
    assert [d.number for d in chosen_devices(*before, inputs=(1,))] == [0, 0]
    assert used._initialized == 1


def test_of_twins_the_one_with_the_same_number_is_taken(library):
    library(USB, DESK, USB)
    before = SoundDevice(2, USB[0], "ALSA", 2, 2, 48000)
    assert find_sound(before, "input").number == 2


def test_under_jack_nothing_is_opened_again(library):
    library(DESK, ("system", 1, (48000,)))
    assert stream.may_return(find_sound("Desk", "output"))
    assert not stream.may_return(find_sound("system", "output"))


@pytest.fixture
def left(monkeypatch):
    """The statuses with which the process was ended at once."""
    statuses = []
    monkeypatch.setattr(leaving, "_held", [])
    monkeypatch.setattr(leaving, "CLOSE_LIMIT_S", 0.05)
    monkeypatch.setattr(os, "_exit", statuses.append)
    return statuses


def test_after_a_stream_that_closes_the_library_ends_too(library, left):
    used = library(DESK)
    close_stream(SimpleNamespace(close=lambda ignore_errors: used.closed.append("stream")))
    leave(0)
    assert used.closed == ["stream", "library"]
    assert left == []


@pytest.mark.parametrize("hangs", ["stream", "library"])
def test_what_does_not_let_go_does_not_hold_up_the_end(library, left, hangs):
    used, over = library(DESK), threading.Event()
    if hangs == "library":
        used._exit_handler = over.wait
    close_stream(SimpleNamespace(close=lambda ignore_errors: hangs == "stream" and over.wait()))
    leave(3)
    over.set()
    assert left == [3]


def test_only_python_writes_to_the_terminal():
    """In a process of its own: what a library in C writes to stderr is gone."""
    program = """
import os, sys
from coach.ports.quiet import quiet_libraries
quiet_libraries()
os.write(2, b"Expression 'poll' failed in 'src/pa.c'")
print("coach: Desk: it stopped.", file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    assert done.stderr.decode().strip() == "coach: Desk: it stopped."
