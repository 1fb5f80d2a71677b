"""The drone: its pitch, its level, its limit, and windows of any size."""

from __future__ import annotations

import numpy as np
import pytest

from coach.ports.drone import LOUDEST_DB, DroneTrack

RATE = 48_000


def level_db(sound):
    return 10 * np.log10(np.mean(sound.astype(float) ** 2))


def test_pitch_and_level():
    sound = DroneTrack(220.0, RATE, -30.0, -RATE).render(0, RATE)
    assert np.argmax(np.abs(np.fft.rfft(sound))) == 220
    assert level_db(sound) == pytest.approx(-30, abs=0.1)


@pytest.mark.parametrize("asked_db", [0.0, 40.0])
def test_it_is_never_louder_than_its_limit(asked_db):
    sound = DroneTrack(220.0, RATE, asked_db, -RATE).render(0, RATE)
    assert level_db(sound) == pytest.approx(LOUDEST_DB, abs=0.1)
    assert np.max(np.abs(sound)) < 1


def test_windows_join_without_a_seam():
    drone = DroneTrack(174.61, RATE, -30.0, 1000)
    whole = drone.render(0, 9000)
    parts = np.concatenate([drone.render(a, 300) for a in range(0, 9000, 300)])
    assert np.array_equal(whole, parts)


def test_it_begins_softly_at_its_frame():
    sound = DroneTrack(220.0, RATE, -30.0, 500).render(0, RATE)
    assert not sound[:501].any()
    assert np.max(np.abs(np.diff(sound[:2000]))) < 1e-3
