"""Pitch of one window: against equal temperament on synthetic brass, and librosa's YIN."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.pitch import cents_between
from coach.hear.period import find_pitch, refine

RATE = 48_000


def brass(hz, frames, *, weak_first=False, noise_db=-60.0, seed=0):
    """Forty exact harmonics falling as brass spectra do, random phases, RMS 0.1, and noise."""
    rng = np.random.default_rng(seed)
    t = np.arange(frames) / RATE
    sound = np.zeros(frames)
    for n in range(1, 41):
        if n * hz < 0.45 * RATE:
            strength = np.exp(-max(0.0, n * hz - 800) / 1500)
            strength *= 0.1 if n == 1 and weak_first else 1.0
            sound += strength * np.sin(2 * np.pi * n * hz * t + rng.uniform(0, 2 * np.pi))
    sound *= 0.1 / np.sqrt(np.mean(sound**2))
    return sound + 10 ** (noise_db / 20) * rng.standard_normal(frames)


@settings(max_examples=60)
@given(st.floats(43, 932), st.integers(0, 1000), st.booleans())
def test_steady_tones_are_right_to_a_cent_octave_included(hz, seed, weak_first):
    sound = brass(hz, 8192, weak_first=weak_first and hz < 200, seed=seed)
    found = find_pitch(sound[:4096], RATE)
    assert abs(cents_between(found.hz, hz)) < 5
    assert abs(cents_between(refine(sound, RATE, found.hz), hz)) < 0.2


def test_silence_has_no_pitch_and_noise_no_clear_one():
    assert find_pitch(np.zeros(4096), RATE) is None
    noise = np.random.default_rng(1).standard_normal(4096)
    found = find_pitch(noise, RATE)
    assert found is None or found.clarity < 0.6


@pytest.mark.parametrize("hz", [43.65, 87.31, 174.61, 349.23, 698.46, 932.33])
def test_beside_the_yin_of_librosa(hz):
    """Source outside the project: librosa.yin (A. de Cheveigne and H. Kawahara, 2002)."""
    librosa = pytest.importorskip("librosa")
    sound = brass(hz, RATE // 2)
    theirs = np.median(librosa.yin(sound, fmin=40, fmax=1100, sr=RATE, frame_length=8192))
    ours = find_pitch(sound[:8192], RATE).hz
    assert abs(cents_between(ours, theirs)) < 10
