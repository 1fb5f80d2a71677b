"""What the input that is opened lets the player know first."""

from __future__ import annotations

import argparse
import contextlib
from types import SimpleNamespace

import pytest

from coach.cli import opening
from coach.ports import midi as module

NOTICE = "Card cannot run at 48000 Hz: it runs at 44100 Hz."


@pytest.mark.parametrize("way", [opening.microphone, opening.midi])
def test_a_rate_that_was_not_asked_for_is_told(way, capsys, monkeypatch):
    card = SimpleNamespace(rate=44100, notice=NOTICE, open=bool, close=bool)
    monkeypatch.setattr(opening, "device_pair", lambda _: ("In", "Out"))
    monkeypatch.setattr("coach.ports.base.open_sound", lambda *_, **__: card)
    monkeypatch.setattr(module.MidiInput, "open", lambda _: None)
    args = argparse.Namespace(
        device=None,
        output_device=None,
        midi_click=False,
        midi_clock=False,
        pedal=None,
        silent=False,
    )
    pedal = SimpleNamespace(take=bool)
    with contextlib.ExitStack() as stack:
        way(args, pedal, stack)
    assert f"coach: {NOTICE}\n" in capsys.readouterr().err
