"""The follower's features, patches and measures against their definitions in double precision.

References outside the project: the discrete Fourier transform of numpy, the correlation of scipy,
and tones whose pitch and level are known from how they were made.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.signal import correlate

from coach.hear.follow.bank import BLOCK, MOST_BLOCKS, Bank
from coach.hear.follow.frames import (
    AHEAD,
    BANDS_HZ,
    FLOOR,
    HARMONICS,
    HOP,
    LONG,
    RATE,
    SHORT,
    scaled,
)
from coach.hear.follow.measure import _likeness, steady_pitch
from coach.hear.follow.patch import (
    CANDIDATES,
    GRID,
    LENGTH,
    LONG_LENGTH,
    LONG_START,
    LOWEST,
    STARTS,
    STEP,
    patch,
)

PITCHES = tuple(range(53, 68))
BLOCK_FRAMES = BLOCK * HOP


def hz_of(pitch):
    return 440.0 * 2 ** ((np.asarray(pitch, float) - 69) / 12)


def tone(pitch: float, frames: int, amplitude: float = 0.3) -> np.ndarray:
    return amplitude * np.sin(2 * np.pi * hz_of(pitch) * np.arange(frames) / RATE)


def two_notes(frames: int = 3 * RATE) -> np.ndarray:
    """Two tones of three harmonics, noise, and true silence between them."""
    sound = np.random.default_rng(5).normal(0, 1e-3, frames)
    third = frames // 3
    for harmonic, amplitude in ((1, 0.2), (2, 0.1), (3, 0.05)):
        up = 12 * np.log2(harmonic)
        sound[:third] += tone(58 + up, third, amplitude)
        sound[2 * third :] += tone(60 + up, frames - 2 * third, amplitude)
    sound[third : 2 * third] = 0.0
    return sound.astype(np.float32)


def fed(sound: np.ndarray, sizes: list[int], pitches=PITCHES) -> Bank:
    """A bank that got the sound in pieces of these sizes, over and over; nothing forgotten."""
    bank, start, turn = Bank(pitches, keep_s=1e3), 0, 0
    while start < len(sound):
        size = sizes[turn % len(sizes)]
        bank.feed(sound[start : start + size])
        start, turn = start + size, turn + 1
    return bank


@pytest.mark.parametrize("pitches", [(58,), PITCHES])
@pytest.mark.parametrize(
    "sizes", [[BLOCK_FRAMES], [7 * BLOCK_FRAMES], [333], [1, 5000, 48, 20_000]], ids=str
)
def test_rows_are_the_same_to_the_last_bit_however_the_sound_was_cut(sizes, pitches):
    sound = two_notes()
    whole, cut = fed(sound, [len(sound)], pitches), fed(sound, sizes, pitches)
    end = whole.end_hop
    assert end > 2 * MOST_BLOCKS * BLOCK - BLOCK
    assert cut.end_hop == end == ((len(sound) - AHEAD) // HOP + 1) // BLOCK * BLOCK
    assert np.array_equal(whole.sound_rows.rows(0, end), cut.sound_rows.rows(0, end))
    for pitch in pitches:
        assert np.array_equal(whole.pitch_rows(pitch, 0, end), cut.pitch_rows(pitch, 0, end))


def test_the_bands_are_those_of_the_fourier_transform():
    """Against numpy's transform of the windowed sound."""
    sound = two_notes()
    bank = fed(sound, [4000])
    hz = np.arange(SHORT // 2) * RATE / SHORT
    for hop in (30, 100, 250, 800):
        part = sound[hop * HOP - SHORT // 2 :][:SHORT].astype(float)
        power = np.abs(np.fft.rfft(part * np.hanning(SHORT + 1)[:-1]))[: SHORT // 2] ** 2
        bands = [
            power[(hz >= low) & (hz < high)].sum() / (SHORT * SHORT / 4)
            for low, high in pairwise(BANDS_HZ)
        ]
        row = bank.sound_rows.rows(hop, hop + 1)[0]
        assert row[3:-1] == pytest.approx(scaled(10 * np.log10(np.array(bands) + FLOOR)), abs=1e-3)
        whole = sound[hop * HOP - LONG // 2 :][:LONG].astype(float)
        level = scaled(10 * np.log10(np.mean(whole**2, keepdims=True) + FLOOR))[0]
        assert row[-1] == pytest.approx(level, abs=1e-4)


def test_a_tone_is_heard_at_its_own_level_and_removed_by_its_own_comb():
    bank = fed(tone(60, RATE, 0.1).astype(np.float32), [4000])
    own, other = bank.pitch_rows(60, 100, 200), bank.pitch_rows(63, 100, 200)
    expected = scaled(20 * np.log10(np.array([0.1])))[0]
    assert own[:, HARMONICS] == pytest.approx(expected, abs=0.01)
    assert own[:, -1].min() > 0.999
    assert (other[:, -2] - own[:, -2]).min() > 40 / 20
    assert other[:, -1].max() < 0.95


def test_low_notes_are_removed_by_their_comb_and_lower_ones_do_no_harm():
    """Down to 26 Hz, below the lowest notes of a tuba (common practice, no source)."""
    for pitch in (20, 24, 27, 33):
        bank = fed(tone(pitch, RATE, 0.1).astype(np.float32), [4000], (0, pitch))
        assert bank.pitch_rows(pitch, 100, 200)[:, -1].min() > 0.999
        assert np.isfinite(bank.pitch_rows(0, 0, bank.end_hop)).all()


@pytest.mark.parametrize("pitch", [46.0, 58.03, 70.4])
def test_the_patch_is_what_its_definition_says(pitch):
    """Against Fourier sums and correlations in double precision."""
    sound = two_notes()
    bank, attack = fed(sound, [4000]), 2 * len(sound) // 3 + 100
    got = patch(bank, attack, pitch)
    stretches = [(attack + s, LENGTH) for s in STARTS] + [(attack + LONG_START, LONG_LENGTH)]
    for row, (start, length) in zip(got, stretches, strict=True):
        here = sound[start : start + length].astype(float)
        window = np.hanning(length + 1)[:-1]
        hz = hz_of(pitch + LOWEST + STEP * np.arange(GRID))
        waves = np.exp(2j * np.pi * np.arange(length)[:, None] / RATE * hz)
        power = np.abs(here * window * 2 / window.sum() @ waves) ** 2 * (hz < 0.47 * RATE)
        assert row[:GRID] == pytest.approx(scaled(10 * np.log10(power + FLOOR)), abs=1e-5)
        delays = np.round(RATE / hz[:CANDIDATES]).astype(int)
        before = np.stack([sound[start - d : start - d + length] for d in delays]).astype(float)
        powers = np.sqrt((here @ here) * (before**2).sum(axis=1)) + length * FLOOR
        assert row[GRID:-1] == pytest.approx(before @ here / powers, abs=1e-5)
        level = 10 * np.log10(np.mean(here**2, keepdims=True) + FLOOR)
        assert row[-1] == pytest.approx(scaled(level)[0], abs=1e-5)


def test_the_patch_of_silence_is_the_floor():
    bank = fed(np.zeros(RATE, np.float32), [4000])
    seen = patch(bank, RATE // 2, 58.0)
    floor = scaled(10 * np.log10(np.array([FLOOR])))[0]
    assert seen[:, :GRID] == pytest.approx(floor)
    assert np.all(seen[:, GRID:-1] == 0)


def test_likeness_is_the_correlation_over_the_powers():
    """Against scipy's correlation."""
    sound = two_notes()[:3000].astype(float)
    low, length = 60, 2800
    got = _likeness(sound, length, low)
    joint = correlate(sound[low:], sound[:length], mode="valid", method="direct")
    here = np.sum(sound[:length] ** 2)
    powers = [np.sum(sound[lag : lag + length] ** 2) for lag in range(low, 3000 - length + 1)]
    assert got == pytest.approx(joint / np.sqrt(here * np.array(powers)), abs=1e-9)


@pytest.mark.parametrize("cents", [-35, 0, 12])
@pytest.mark.parametrize("midi", [41, 58, 77])
def test_the_pitch_of_a_known_tone_to_half_a_cent(midi, cents):
    pitch = midi + cents / 100
    sound = tone(pitch, RATE // 3) + 0.5 * tone(pitch + 12, RATE // 3)
    measured = steady_pitch(sound.astype(np.float32), midi)
    assert measured == pytest.approx(pitch, abs=0.005)


def test_noise_and_silence_have_no_pitch():
    noise = np.random.default_rng(2).normal(0, 0.1, RATE // 3).astype(np.float32)
    assert steady_pitch(noise, 58.0) is None
    assert steady_pitch(np.zeros(RATE // 3, np.float32), 58.0) is None


def test_sound_of_double_precision_gives_the_same_rows():
    sound = two_notes(RATE)
    single, double = fed(sound, [4000]), fed(sound.astype(np.float64), [4000])
    end = single.end_hop
    assert np.array_equal(single.pitch_rows(58, 0, end), double.pitch_rows(58, 0, end))
