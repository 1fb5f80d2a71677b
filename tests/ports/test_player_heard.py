"""Notes sounded again as they were heard."""

from __future__ import annotations

import numpy as np

from coach.core.pitch import hz_of_midi
from coach.core.playback import HeardNote, Slowed
from coach.ports.player.heard import sounded
from tests.making import RATE, plan_of, scale

PLAN = plan_of(scale())
SECOND = RATE
START = PLAN.start_frame


def level(sound: np.ndarray, low: int, high: int) -> float:
    return float(np.sqrt(np.mean(sound[low:high].astype(float) ** 2)))


def test_each_at_its_time_with_its_pitch_and_its_loudness():
    notes = [
        HeardNote(START + SECOND, SECOND, 60.0, -30.0, slurred=False),
        HeardNote(START + 2 * SECOND, SECOND, 60.0, -18.0, slurred=False),
        HeardNote(START + 3 * SECOND, SECOND, 67.0, None, slurred=False),
    ]
    slowed = Slowed(PLAN, 0.5, 2 * RATE, START)
    sound = sounded(notes, slowed, START + 4 * SECOND)
    second = 4 * RATE
    assert len(sound) == 4 * second
    assert not np.any(sound[:second])
    assert np.any(sound[second : second + 100])
    soft, loud = (level(sound, k * second + RATE, k * second + 2 * RATE) for k in (1, 2))
    assert abs(20 * np.log10(loud / soft) - 12) < 1.5
    for k, pitch in ((1, 60), (3, 67)):
        part = sound[k * second + RATE // 2 :][: second // 2]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 20))
        around = np.arange(len(spectrum)) * 2 * RATE / (1 << 20)
        near = (around > hz_of_midi(pitch - 1)) & (around < hz_of_midi(pitch + 1))
        found = around[near][np.argmax(spectrum[near])]
        assert abs(12 * np.log2(found / hz_of_midi(pitch))) < 0.1


def test_a_gap_before_the_tongue_and_none_in_a_slur():
    for slurred, silent in ((True, False), (False, True)):
        notes = [
            HeardNote(START, SECOND // 2, 60.0, -20.0, slurred=False),
            HeardNote(START + SECOND // 2, SECOND // 2, 64.0, -20.0, slurred=slurred),
        ]
        sound = sounded(notes, Slowed(PLAN, 1.0, RATE, START), START + SECOND)
        gap = level(sound, SECOND // 2 - 480, SECOND // 2)
        assert (gap < level(sound, 4_800, 9_600) / 10) == silent


def test_nothing_was_heard():
    sound = sounded([], Slowed(PLAN, 1.0, RATE, START), START + 480)
    assert sound.shape == (480,)
    assert not np.any(sound)
