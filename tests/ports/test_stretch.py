"""Slowed sound: as long as it should be, attacks whole and in time, pitch as it was."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.ports.stretch import JOIN_S, laid_along, stretched

RATE = 48_000
# Speeds at which the places of all attacks below are whole frames.
SPEEDS = [0.25, 0.5, 0.8]


def tone(hz: float, seconds: float) -> np.ndarray:
    t = np.arange(round(seconds * RATE)) / RATE
    return sum(np.sin(2 * np.pi * n * hz * t) / n for n in range(1, 7)) * 0.1


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("hz", [87.0, 220.0, 698.0])
def test_an_attack_sounds_once_as_it_was_at_its_time(hz, speed):
    attacks = [20_000, 32_000, 40_000]
    sound = np.zeros(60_000)
    rng = np.random.default_rng(1)
    for at in attacks:
        sound[at : at + 6_000] = tone(hz, 0.125)
        sound[at : at + 480] += rng.uniform(-0.3, 0.3, 480)
    sound = sound.astype(np.float32)
    slow = stretched(sound, RATE, speed, attacks, hz)
    join = round(JOIN_S * RATE)
    for at in attacks:
        burst = sound[at : at + 480]
        low = round(at / speed) - 4_000
        likeness = np.correlate(slow[low : low + 9_000], burst, "valid") / np.dot(burst, burst)
        best = int(np.argmax(likeness))
        assert likeness[best] == pytest.approx(1, abs=1e-3)
        assert abs(low + best - at / speed) <= join
        likeness[best - 480 : best + 480] = 0
        assert np.max(likeness) < 0.6


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("hz", [87.0, 220.0, 698.0])
def test_the_pitch_of_a_steady_tone_stays(hz, speed):
    slow = stretched(tone(hz, 1.0).astype(np.float32), RATE, speed, [0], hz)
    part = slow[RATE // 10 :][:RATE]
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 20))
    around = np.arange(len(spectrum)) * RATE / (1 << 20)
    near = (around > hz / 1.05) & (around < hz * 1.05)
    found = around[near][np.argmax(spectrum[near])]
    assert abs(1200 * np.log2(found / hz)) < 2
    assert np.std(part) == pytest.approx(np.std(tone(hz, 1.0)), rel=0.05)


@settings(max_examples=40)
@given(
    st.integers(0, 30_000),
    st.sampled_from([0.25, 0.3, 0.5, 0.77, 0.999]),
    st.lists(st.integers(0, 31_000), max_size=6),
    st.sampled_from([40.0, 150.0, 900.0]),
)
def test_any_attacks_in_any_sound(length, speed, attacks, lowest_hz):
    sound = np.random.default_rng(2).uniform(-1, 1, length).astype(np.float32)
    slow = stretched(sound, RATE, speed, attacks, lowest_hz)
    assert slow.dtype == np.float32
    assert len(slow) == round(length / speed)
    assert np.all(np.isfinite(slow))
    # Grains overlap to one: nothing becomes louder than it was.
    assert np.max(np.abs(slow), initial=0) <= 1 + 1e-6


def test_full_speed_is_the_sound_itself():
    sound = np.random.default_rng(2).uniform(-1, 1, 10_000).astype(np.float32)
    assert stretched(sound, RATE, 1.0, [5_000], 100.0) is sound


def test_along_a_line_each_attack_lies_where_the_line_has_it():
    attacks = [12_000, 30_000, 52_000]
    sound = np.zeros(70_000, np.float32)
    for at in attacks:
        sound[at : at + 6_000] = tone(220, 0.125)
    line = (np.array([0.0, 21_000, 40_000, 70_000]), np.array([0.0, 60_000, 90_000, 130_000]))
    laid = laid_along(sound, RATE, line, attacks, 220)
    assert len(laid) == 130_000
    for at in attacks:
        place = round(float(np.interp(at, *line)))
        start = place - 2_000 + int(np.argmax(np.abs(laid[place - 2_000 : place + 3_000]) > 1e-3))
        assert abs(start - place) <= round(2 * JOIN_S * RATE)
