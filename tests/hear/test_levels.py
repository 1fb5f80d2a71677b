"""The level of the input and the advice on it."""

from __future__ import annotations

import numpy as np
import pytest

from coach.hear.levels import measure_level

RATE = 48_000


def playing(level_db, noise_db):
    """A second of room, two of a tone whose RMS is `level_db`."""
    rng = np.random.default_rng(1)
    tone = np.sqrt(2) * 10 ** (level_db / 20) * np.sin(2 * np.pi * 350 * np.arange(2 * RATE) / RATE)
    sound = np.concatenate([np.zeros(RATE), tone])
    return (sound + 10 ** (noise_db / 20) * rng.standard_normal(len(sound))).astype(np.float32)


@pytest.mark.parametrize(
    ("level_db", "noise_db", "advice"),
    [
        (-20, -70, "good"),
        (-45, -80, "move nearer"),
        (-20, -38, "noisy"),
        (-5, -70, "too hot"),
    ],
)
def test_the_advice(level_db, noise_db, advice):
    assert measure_level(playing(level_db, noise_db), RATE).advice == advice


def test_the_figures_of_a_known_sound():
    level = measure_level(playing(-20, -70), RATE)
    assert level.loud_db == pytest.approx(-20, abs=0.1)
    assert level.noise_db == pytest.approx(-70, abs=0.5)
    assert level.clipped == 0


def test_clipped_samples_are_counted():
    sound = np.clip(3 * playing(-5, -70), -1, 1)
    level = measure_level(sound, RATE)
    assert level.clipped > 1000
    assert level.advice == "too hot"


def test_digital_silence():
    level = measure_level(np.zeros(RATE, np.float32), RATE)
    assert (level.loud_db, level.noise_db, level.advice) == (-120.0, -120.0, "move nearer")


def test_too_little_sound_is_refused():
    with pytest.raises(ValueError, match="a fiftieth of a second"):
        measure_level(np.zeros(100, np.float32), RATE)
