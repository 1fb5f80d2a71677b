"""The room around the player answers as a convolution does, whatever blocks are left out."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from tests.studio.room import Room

BLOCK, BLOCKS = 64, 40


@pytest.mark.parametrize("length", [1, 64, 1000])
@pytest.mark.parametrize("left_out", [range(0), range(10, 13), range(5, 35)])
def test_blocks_are_answered_as_one_sound(length, left_out):
    rng = np.random.default_rng(1)
    response = rng.standard_normal(length).astype(np.float32)
    sound = rng.standard_normal(BLOCK * BLOCKS).astype(np.float32)
    sound[left_out.start * BLOCK : left_out.stop * BLOCK] = 0
    whole = fftconvolve(sound.astype(float), response)
    room = Room(response, BLOCK)
    for k in range(BLOCKS):
        if k not in left_out:
            part = slice(k * BLOCK, (k + 1) * BLOCK)
            answer = room.answer(5000 + part.start, sound[part])
            np.testing.assert_allclose(answer, whole[part], atol=1e-3)
