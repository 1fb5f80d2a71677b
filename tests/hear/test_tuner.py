"""The tuner: to a cent against equal temperament, in blocks of any size, over a drone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.pitch import cents_between, hz_of_midi
from coach.hear.tuner import LEARN_S, Tuner
from coach.ports.drone import DroneTrack
from tests.hear.test_period import RATE, brass


def tone(hz, seconds, level=1.0, **more):
    return (level * brass(hz, round(seconds * RATE), **more)).astype(np.float32)


@settings(max_examples=25)
@given(st.integers(29, 82), st.floats(-45, 45), st.integers(0, 99))
def test_every_note_of_the_horn_to_a_cent(midi, cents, seed):
    hz = hz_of_midi(midi + cents / 100)
    readings = Tuner(RATE).feed(0, tone(hz, 0.5, seed=seed, noise_db=-50))
    assert readings
    assert all(abs(cents_between(r.hz, hz)) < 1 for r in readings)


@pytest.mark.parametrize("rate", [16_000, 44_100, 96_000])
def test_other_rates(rate):
    t = np.arange(rate) / rate
    sound = sum(0.05 / n * np.sin(2 * np.pi * 98.5 * n * t) for n in range(1, 20))
    readings = Tuner(rate).feed(0, sound.astype(np.float32))
    assert all(abs(cents_between(r.hz, 98.5)) < 1 for r in readings)


@settings(max_examples=10)
@given(st.lists(st.integers(1, 9000), min_size=1, max_size=6).filter(lambda s: max(s) > 300))
def test_blocks_of_any_size_give_the_same_readings(sizes):
    sound = tone(174.61, 0.8)
    whole = Tuner(RATE).feed(5, sound)
    tuner, readings, at, k = Tuner(RATE), [], 0, 0
    while at < len(sound):
        size = sizes[k % len(sizes)]
        readings += tuner.feed(5 + at, sound[at : at + size])
        at, k = at + size, k + 1
    assert readings == whole


def test_a_slow_rise_is_followed():
    """Two cents a second, as phase: the readings lie on that line."""
    t = np.arange(3 * RATE) / RATE
    hz = 220 * 2 ** (2 * t / 1200)
    phase = 2 * np.pi * np.cumsum(hz) / RATE
    sound = sum(0.05 / n * np.sin(n * phase) for n in range(1, 12)).astype(np.float32)
    for reading in Tuner(RATE).feed(0, sound):
        assert abs(cents_between(reading.hz, hz[reading.frame])) < 0.2


def test_silence_noise_and_moving_notes_have_no_reading():
    noise = np.random.default_rng(1).standard_normal(RATE) * 0.01
    glide = 0.1 * np.sin(2 * np.pi * np.cumsum(200 * 2 ** (np.arange(RATE) / RATE)) / RATE)
    for sound in (np.zeros(RATE), noise, glide):
        readings = Tuner(RATE).feed(0, sound.astype(np.float32))
        assert all(r.hz is None for r in readings)


@pytest.mark.parametrize("interval_cents", [4.0, 386.3, 702.0, 1192.0, -1200.0])
def test_a_note_over_the_drone(interval_cents):
    drone_hz, start = 174.61, 0.5
    hz = drone_hz * 2 ** (interval_cents / 1200)
    drone = DroneTrack(drone_hz, RATE, -30.0, -RATE).render(1000, 3 * RATE)
    playing = np.concatenate([np.zeros(round((LEARN_S + start) * RATE)), tone(hz, 1.5)])
    sound = drone + playing.astype(np.float32)
    tuner = Tuner(RATE, drone_hz=drone_hz)
    readings = [
        r for at in range(0, len(sound), 512) for r in tuner.feed(1000 + at, sound[at : at + 512])
    ]
    before = [r for r in readings if r.frame < 1000 + (LEARN_S + start - 0.1) * RATE]
    after = [r for r in readings if r.frame > 1000 + (LEARN_S + start + 0.1) * RATE]
    assert len(after) > 10
    assert all(r.hz is None for r in before)
    assert all(abs(cents_between(r.hz, hz)) < 1 for r in after)


def test_beside_the_yin_of_librosa():
    """Source outside the project: librosa.yin (A. de Cheveigne and H. Kawahara, 2002)."""
    librosa = pytest.importorskip("librosa")
    sound = tone(116.54 * 2 ** (17 / 1200), 1.0)
    theirs = np.median(librosa.yin(sound, fmin=40, fmax=1100, sr=RATE, frame_length=8192))
    ours = np.median([r.hz for r in Tuner(RATE).feed(0, sound)])
    assert abs(cents_between(ours, theirs)) < 3


@pytest.mark.shared
def test_recorded_notes_are_named_rightly(shared_dir):
    """Long horn notes beside the checkout, against the pitch in their table."""
    import csv

    from coach.core.pitch import midi_of_hz
    from coach.files.audio import read_audio

    folder = shared_dir / "recordings"
    with (folder / "notes" / "notes.csv").open() as file:
        rows = [r for r in csv.DictReader(file) if r["length"] == "15" and not r["flags"]]
    assert len(rows) > 10
    for row in rows:
        sound, rate = read_audio(folder / row["file"])
        heard = [midi_of_hz(r.hz) for r in Tuner(rate).feed(0, sound) if r.hz]
        assert round(np.median(heard) - 0.2) <= int(row["midi"]) <= round(np.median(heard) + 0.2)
