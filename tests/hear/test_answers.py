"""How late an instrument answers, in recordings whose delay is known."""

from __future__ import annotations

import numpy as np
import pytest

from coach.errors import CoachError
from coach.hear.answers import find_answer

RATE = 48_000
SENT = [24_000 + 43_200 * k for k in range(8)]


def recording(delays_ms, *, level_db=-25.0, noise_db=-70.0):
    """Struck notes that die away, so many ms after each call (None: silent)."""
    rng = np.random.default_rng(4)
    out = 10 ** (noise_db / 20) * rng.standard_normal(SENT[-1] + RATE)
    t = np.arange(RATE // 4) / RATE
    note = 10 ** (level_db / 20) * np.sin(2 * np.pi * 523.25 * t) * np.exp(-8 * t)
    for sent, delay in zip(SENT, delays_ms, strict=True):
        if delay is not None:
            at = sent + round(delay * RATE / 1000)
            out[at : at + len(note)] += note
    return out.astype(np.float32)


@pytest.mark.parametrize("delay_ms", [3, 12.5, 180])
@pytest.mark.parametrize("noise_db", [-80, -55])
def test_a_known_delay_is_found_within_two_milliseconds(delay_ms, noise_db):
    found = find_answer(recording([delay_ms] * 8, noise_db=noise_db), SENT, RATE)
    assert found.frames * 1000 / RATE == pytest.approx(delay_ms, abs=2)
    assert found.spread_frames < RATE / 1000


def test_some_notes_may_be_lost():
    found = find_answer(recording([20, None, 20, 21, None, 19, 20, 90]), SENT, RATE)
    assert found.frames * 1000 / RATE == pytest.approx(20, abs=2)


@pytest.mark.parametrize(
    ("delays", "said"),
    [
        ([None] * 8, "0 of 8 notes were heard"),
        ([20, None, None, None, 20, None, None, 20], "3 of 8 notes were heard"),
        ([10, 60, 120, 200, 30, 90, 150, 250], "apart from one another"),
    ],
)
def test_what_can_not_be_measured_is_said(delays, said):
    with pytest.raises(CoachError, match=said):
        find_answer(recording(delays), SENT, RATE)
