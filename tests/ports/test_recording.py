"""A recording laid along a plan: its bars where the plan has them, its pitch as it was."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from coach.core.tutti.bars import Positions
from coach.core.tutti.mixer import Mix
from coach.errors import CoachError
from coach.ports.ensemble.track import limited
from coach.ports.recording import RecordingTrack

RATE = 24_000
BEATS = tuple(Fraction(4 * k) for k in range(6))
# Some bars faster, some slower; a second of something else before.
HEARD = (24_000, 60_000, 103_000, 139_000, 190_000, 232_000)
PLANNED = (50_000, 110_000, 170_000, 230_000, 290_000, 350_000)
POSITIONS = Positions(RATE, BEATS, HEARD)


def bars_of_tone(hz: float = 440.0) -> np.ndarray:
    """A note from each bar line on, its attack within a millisecond, dying away before the next."""
    sound = np.zeros(HEARD[-1] + RATE, np.float32)
    for frame in HEARD:
        t = np.arange(RATE) / RATE
        note = np.minimum(1, t / 0.001) * np.exp(-4 * t) * np.sin(2 * np.pi * hz * t)
        sound[frame : frame + RATE] += 0.5 * note.astype(np.float32)
    return sound


def attack_near(wave: np.ndarray, frame: int) -> int:
    """Where the level first comes within 6 dB of the peak around `frame`."""
    part = np.abs(wave[frame - 3_000 : frame + 3_000])
    return frame - 3_000 + int(np.argmax(part > 0.5 * part.max()))


def test_every_bar_sounds_where_the_plan_has_it():
    sound = bars_of_tone()
    track = RecordingTrack(sound, POSITIONS, PLANNED)
    wave = track.render(0, track.end_frame)
    for heard, planned in zip(HEARD, PLANNED, strict=True):
        late = attack_near(sound, heard) - heard
        assert attack_near(wave, planned) - late == pytest.approx(planned, abs=0.01 * RATE)


def test_the_pitch_stays():
    track = RecordingTrack(bars_of_tone(), POSITIONS, PLANNED)
    part = track.render(PLANNED[3] + 2_000, 16_384) * np.hanning(16_384)
    spectrum = np.abs(np.fft.rfft(part, 1 << 18))
    hz = np.argmax(spectrum) * RATE / (1 << 18)
    assert abs(1200 * np.log2(hz / 440)) < 5


def test_nothing_sounds_before_its_start_and_windows_join():
    track = RecordingTrack(bars_of_tone(), POSITIONS, PLANNED)
    whole = track.render(0, track.end_frame)
    assert not whole[: PLANNED[0] - 4_000].any()
    assert np.array_equal(
        np.concatenate([track.render(k, 7_000) for k in (0, 7_000)]), whole[:14_000]
    )
    assert np.abs(whole).max() <= 1


def test_a_recording_that_begins_late_is_heard_from_where_it_begins():
    sound = bars_of_tone()[HEARD[1] - 2_000 :]
    late = Positions(RATE, BEATS, tuple(frame - HEARD[1] + 2_000 for frame in HEARD))
    track = RecordingTrack(sound, late, PLANNED)
    wave = track.render(0, track.end_frame)
    assert attack_near(wave, PLANNED[2]) == pytest.approx(PLANNED[2], abs=0.01 * RATE)
    assert not wave[: PLANNED[0]].any()


def test_twenty_times_slower_is_refused():
    with pytest.raises(CoachError, match="as fast"):
        RecordingTrack(bars_of_tone(), POSITIONS, [20 * frame for frame in HEARD])


def test_bars_outside_the_recording_are_refused():
    with pytest.raises(CoachError, match="not in the recording"):
        RecordingTrack(bars_of_tone()[:30_000], POSITIONS, PLANNED)


def test_it_is_laid_as_far_as_it_is_asked_for_and_mixed_without_laying_it_again():
    track = RecordingTrack(bars_of_tone(), POSITIONS, PLANNED)
    track.prepare(PLANNED[0], 30_000)
    begun = track.mixed(Mix((-6.0,)))
    whole = RecordingTrack(bars_of_tone(), POSITIONS, PLANNED).render(0, track.end_frame)
    soft = begun.render(0, track.end_frame)
    np.testing.assert_allclose(soft, limited(10 ** (-6 / 20) * whole), atol=1e-3)
    assert not track.mixed(Mix((0.0,), frozenset({0}))).render(0, track.end_frame).any()
    right = track.mixed(Mix((0.0,), pans=(1.0,))).render(0, track.end_frame)
    assert right.shape == (track.end_frame, 2)
    assert not right[:, 0].any()
    assert np.abs(right[:, 1]).max() > np.abs(whole).max()
