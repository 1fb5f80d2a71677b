"""What `coach check` advises."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from coach.cli.check import ADVICE, _advice
from coach.hear.levels import measure_level


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
