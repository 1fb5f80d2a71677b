"""Just intervals, targets and long tones.

Cents of the just intervals: the table of intervals in any textbook of acoustics (for example
H. Helmholtz, "On the Sensations of Tone", trans. A. Ellis; figures from memory, checked here by the
ratios): 5:4 = 386.3, 6:5 = 315.6, 3:2 = 702.0, 4:3 = 498.0, 5:3 = 884.4, 8:5 = 813.7, 9:8 = 203.9,
15:8 = 1088.3, 16:15 = 111.7, 9:5 = 1017.6, 45:32 = 590.2.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.pitch import hz_of_midi
from coach.core.tuning import JUST_RATIOS, ToneFolder, Tuning, just_cents, measure_tone

BOOK_CENTS = {
    0: 0, 1: 111.7, 2: 203.9, 3: 315.6, 4: 386.3, 5: 498.0, 6: 590.2, 7: 702.0, 8: 813.7, 9: 884.4,
    10: 1017.6, 11: 1088.3,
}  # fmt: skip


@pytest.mark.parametrize(("step", "cents"), BOOK_CENTS.items())
def test_just_intervals_by_the_book(step, cents):
    assert just_cents(step) + 100 * step == pytest.approx(cents, abs=0.06)
    assert just_cents(step - 24) == pytest.approx(just_cents(step))
    assert 1200 * math.log2(JUST_RATIOS[step]) == pytest.approx(cents, abs=0.06)


def test_a_just_third_over_the_drone():
    tuning = Tuning(440, drone=53, just=True)
    assert tuning.target_hz(57) / tuning.target_hz(53) == pytest.approx(5 / 4)
    assert tuning.nearest(tuning.target_hz(53) * 5 / 4) == (57, pytest.approx(0, abs=1e-6))
    tempered = Tuning(440, drone=53).nearest(tuning.target_hz(53) * 5 / 4)
    assert tempered == (57, pytest.approx(-13.7, abs=0.05))


@given(st.integers(29, 82), st.floats(-35, 35), st.floats(415, 466), st.booleans())
def test_the_nearest_note(midi, cents, a4, just):
    tuning = Tuning(a4, 41, just)
    found, off = tuning.nearest(tuning.target_hz(midi) * 2 ** (cents / 1200))
    assert found == midi
    assert off == pytest.approx(cents, abs=1e-6)


@given(st.floats(-20, 20), st.floats(-8, 8), st.floats(1.5, 10))
def test_drift_and_mean_of_a_line(cents, drift, length):
    points = [(k * 0.05, cents + drift * k * 0.05) for k in range(int(length / 0.05) + 1)]
    tone = measure_tone(60, points)
    assert tone.drift_cents_per_s == pytest.approx(drift, abs=1e-6)
    assert tone.spread_cents == pytest.approx(0, abs=1e-6)


def test_spread_of_a_waver():
    points = [(k * 0.05, 3 * (-1) ** k) for k in range(100)]
    assert measure_tone(60, points).spread_cents == pytest.approx(3, abs=0.1)


def test_tones_end_with_another_note_or_with_silence():
    folder, ended = ToneFolder(), []
    for k in range(100):
        midi = 60 if k < 30 else 62
        reading = (midi, 1.0) if k < 60 else None
        ended.append(folder.step(k * 0.05, reading))
    tones = [tone for tone in ended if tone]
    assert [tone.midi for tone in tones] == [60, 62]
    assert tones[0].length_s == pytest.approx(1.45)
    assert folder.finish() is None


def test_a_hole_of_a_blink_does_not_end_a_tone_and_a_short_one_is_none():
    folder = ToneFolder()
    for k in range(40):
        assert folder.step(k * 0.05, None if k % 10 == 5 else (60, 0.0)) is None
    assert folder.held_s == pytest.approx(1.95)
    assert folder.finish().length_s == pytest.approx(1.95)
    folder.step(9.0, (60, 0.0))
    assert folder.finish() is None


@pytest.mark.parametrize("hz", [43.65, 110.0, 440.0, 932.33])
def test_equal_temperament_by_midi_tuning(hz):
    """f = 440 * 2**((m - 69) / 12), the formula of the MIDI Tuning Standard."""
    midi, cents = Tuning().nearest(hz)
    assert hz_of_midi(midi + cents / 100) == pytest.approx(hz)
