"""Mono and stereo into rings of any number of channels, around their end."""

from __future__ import annotations

import numpy as np
import pytest

from coach.ports.ring import copy_wrapped, store_wrapped

MONO = np.arange(1, 6, dtype=np.float32)
STEREO = np.stack([MONO, 10 * MONO], axis=1)


def stored(samples: np.ndarray, channels: int) -> list[list[float]]:
    """What each channel holds after the sound was written over something else."""
    ring = np.full((8, channels), 7, np.float32)
    store_wrapped(ring, 6, samples)
    out = np.zeros((5, channels), np.float32)
    copy_wrapped(ring, 6, out)
    assert np.all(ring[3:6] == 7)
    return out.T.tolist()


@pytest.mark.parametrize("channels", [1, 2, 3])
def test_mono_goes_into_all_channels(channels):
    assert stored(MONO, channels) == [MONO.tolist()] * channels


def test_stereo_goes_into_the_first_two_channels_into_one_as_the_mean():
    left, right = STEREO.T.tolist()
    assert stored(STEREO, 2) == [left, right]
    assert stored(STEREO, 1) == [(5.5 * MONO).tolist()]
    assert stored(STEREO, 4) == [left, right, [0.0] * 5, [0.0] * 5]
