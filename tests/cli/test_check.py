"""What `coach check` advises."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from coach.cli import main
from coach.cli.check import ADVICE, _advice
from coach.hear.levels import measure_level
from coach.ports import devices


@pytest.mark.parametrize(
    ("platform", "word"),
    [("darwin", "System Settings"), ("win32", "desktop apps"), ("linux", "another input")],
)
@pytest.mark.parametrize("played", [True, False])
def test_silence_without_any_noise_may_be_a_refusal(monkeypatch, platform, word, played):
    monkeypatch.setattr(sys, "platform", platform)
    level = measure_level(np.zeros(48_000, np.float32), 48_000)
    first = _advice(level, None, played=played)[0]
    assert first.startswith("Nothing at all comes in")
    assert word in first


def test_a_faint_input_is_only_faint():
    noise = np.random.default_rng(1).normal(0, 1e-5, 48_000).astype(np.float32)
    assert _advice(measure_level(noise, 48_000), None, played=True)[0] == ADVICE["move nearer"]


def test_what_is_cut_off_is_too_loud():
    full = np.ones(48_000, np.float32)
    assert "too loud: it overloads" in _advice(measure_level(full, 48_000), None, played=True)[0]


@pytest.mark.parametrize(
    ("command", "instead"),
    [
        (["check"], "a MIDI instrument needs no check"),
        (["tuner"], "without one: --input FILE, a recording"),
        (["drill", "turns"], "without one: --input midi, or a recording"),
        (["learn", "--out", "mine"], "without one: --input midi, or a recording"),
    ],
)
def test_without_a_microphone_each_says_what_else_there_is(monkeypatch, capsys, command, instead):
    monkeypatch.setattr(devices, "_sound_devices", list)
    assert main(command) == 3
    told = capsys.readouterr().err.splitlines()[-1]
    assert told == f"coach: there is no sound input; {devices.NONE_HINT}; {instead}."


def test_rules_that_there_are_not_are_told_before_a_device_is_asked_for(monkeypatch, capsys):
    monkeypatch.setattr(devices, "_sound_devices", list)
    assert main(["drill", "turns", "--rules", "norml"]) == 2
    assert 'there is no rule set "norml"' in capsys.readouterr().err
