"""The sound of the take at hand, exactly as it came in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coach.core.take import NoteEvent
from coach.core.timeline import count_in_frames, plan_take
from coach.ports.recorded import RecordedPort
from coach.ports.replay import ReplayNotes, ReplayPort
from tests.making import plan_of, scale

RATE = 48_000


def noise(frames: int) -> np.ndarray:
    return np.random.default_rng(3).standard_normal(frames).astype(np.float32)


def listen(port: RecordedPort, until_frame: int) -> None:
    while not port.ended and port.read().end_frame < until_frame:
        pass


@pytest.mark.parametrize("block_frames", [1, 333, 512, 100_000])
def test_the_samples_between_begin_and_end_from_the_first_click_on(block_frames):
    came = noise(30_000 if block_frames == 1 else 300_000)
    port = RecordedPort(ReplayPort(came, RATE, block_frames))
    listen(port, 5_000)
    before = port.position()
    plan = replace(plan_of(scale()), start_frame=before + 777, end_frame=before + 20_000)
    port.begin(plan)
    listen(port, plan.end_frame)
    end = port.position()
    port.end()
    listen(port, end + 3_000)
    sound = port.taken()
    assert sound is not None
    assert (sound.frame, sound.rate) == (before + 777, RATE)
    np.testing.assert_array_equal(sound.samples, came[before + 777 : end])
    assert sound.end_frame == end


def test_each_take_takes_the_place_of_the_one_before():
    came = noise(600_000)
    port = RecordedPort(ReplayPort(came, RATE))
    for _ in range(2):
        exercise = plan_of(scale()).exercise
        first = port.earliest_frame()
        plan = plan_take(exercise, RATE, first + count_in_frames(exercise, RATE))
        port.begin(plan)
        listen(port, plan.end_frame)
        port.end()
        sound = port.taken()
        assert sound is not None
        assert sound.frame == plan.start_frame == first
        np.testing.assert_array_equal(sound.samples, came[first : port.position()])


def test_what_was_not_heard_from_the_start_is_silent_there():
    """Nor is anything left of the take before."""
    came = noise(50_000)
    port = RecordedPort(ReplayPort(came, RATE))
    port.begin(plan_of(scale()))
    listen(port, 5_000)
    before = port.position()
    port.begin(replace(plan_of(scale()), start_frame=-100))
    listen(port, 10_000)
    sound = port.taken()
    assert sound is not None
    assert not np.any(sound.samples[: 100 + before])
    np.testing.assert_array_equal(sound.samples[100 + before :], came[before : port.position()])


def test_midi_has_no_sound_and_neither_has_a_port_that_was_not_played():
    port = RecordedPort(ReplayNotes([NoteEvent(2_000, 60, 90, on=True)], RATE))
    assert port.taken() is None
    port.begin(plan_of(scale()))
    assert port.taken() is None
    listen(port, 10_000)
    port.end()
    assert port.taken() is None
