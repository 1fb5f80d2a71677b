"""Whichever of the two libraries for MIDI is installed."""

from __future__ import annotations

import subprocess
import sys

import pytest

from coach.errors import DeviceError
from coach.ports import midilib


def test_without_the_package_one_sentence_says_what_is_needed(monkeypatch):
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    monkeypatch.setitem(sys.modules, "supriya_midi", None)
    with pytest.raises(DeviceError) as e:
        midilib.midi_library()
    assert f"MIDI needs the package {midilib.PACKAGE}, which is not installed" in str(e.value)
    assert f"pip install {midilib.PACKAGE}." in str(e.value)
    assert e.value.exit_status == 3


def test_the_other_library_gives_messages_in_the_same_way(monkeypatch):
    """On RtMidi's own dummy interface, which has no ports; what comes in is put in by hand."""
    other = pytest.importorskip("supriya_midi")
    given = []
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    monkeypatch.setattr(
        other.MidiIn, "set_callback", lambda self, callback, data: given.append(callback)
    )
    library = midilib.midi_library()
    client = library.MidiIn(library.API_RTMIDI_DUMMY, "coach")
    came = []
    client.set_callback(lambda event, data: came.append(event))
    given[0]([0x90, 60, 90], 0.25, None)
    assert came == [([0x90, 60, 90], 0.25)]
    assert client.get_ports() == []
    client.delete()
    for name in ("UNSPECIFIED", "LINUX_ALSA", "UNIX_JACK", "MACOSX_CORE", "WINDOWS_MM"):
        assert getattr(library, f"API_{name}").name == name


def test_what_the_library_says_of_the_system_does_not_reach_the_screen():
    """In a process of its own: a stand-in that writes as ALSA does."""
    program = """
import os, sys
from types import SimpleNamespace
def client(api, name):
    os.write(2, b"ALSA lib seq_hw.c:466:(snd_seq_hw_open) open /dev/snd/seq failed")
    return SimpleNamespace(get_ports=list, delete=int)
apis = ("UNSPECIFIED", "LINUX_ALSA", "UNIX_JACK", "MACOSX_CORE", "WINDOWS_MM")
sys.modules["rtmidi"] = SimpleNamespace(
    MidiIn=client, SystemError=OSError, RtMidiError=OSError, **{f"API_{name}": 0 for name in apis}
)
from coach.ports.devices import list_midi
print(list_midi("input"), file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    assert done.stderr.decode().strip() == "()"
