"""Frames against the computer's clock, and lost frames told from late ones; time comes by hand."""

from __future__ import annotations

import random
import time

import pytest

from coach.ports import clock as module
from coach.ports.clock import CLOCK_RATE, ClockPort, FrameClock, LossWatch, now_s

RATE, BLOCK = 48_000, 256


class Card:
    """A sound card with a crystal off by `ppm`, delivering bursts, looked at with jitter."""

    def __init__(self, ppm: float = 0.0, burst: int = BLOCK, seed: int = 1) -> None:
        self.rate = RATE * (1 + ppm * 1e-6)
        self.burst = burst
        self.rng = random.Random(seed)
        self.now_s = 100.0
        self.watch = LossWatch(RATE, BLOCK)
        self.missing = 0
        self.added = 0

    def captured(self) -> int:
        """By now: whole bursts, less what was lost."""
        passed = (self.now_s - 100.0) * self.rate
        return int(passed // self.burst) * self.burst - self.missing

    def run(self, seconds: float, *, flagged: bool = False) -> list[int]:
        """Look every 2 to 12 ms, now and then 40 ms; returns what was called lost."""
        found = []
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            pause = 0.04 if self.rng.random() < 0.02 else self.rng.choice([0.002, 0.002, 0.008])
            self.now_s += pause + self.rng.random() * 0.002
            late_s = self.rng.random() * 0.0005  # between the count and the clock
            lost = self.watch.step(
                self.captured() + self.added, self.now_s + late_s, flagged=flagged
            )
            flagged = False
            if lost:
                found.append(lost)
                self.added += lost
        return found


def test_the_lower_envelope_puts_a_time_on_its_frame():
    clock = FrameClock(RATE)
    rng = random.Random(7)
    for k in range(300):
        late_s = 0.003 + rng.random() * 0.02
        clock.observe(k * 480, 50.0 + k * 0.01 + late_s)
    assert clock.frame_at(51.0) == pytest.approx(48_000 - 0.003 * RATE, abs=0.0005 * RATE)
    assert clock.time_at(clock.frame_at(51.5)) == pytest.approx(51.5)


@pytest.mark.parametrize("ppm", [-200, 0, 200])
@pytest.mark.parametrize("burst", [256, 1024, 2400])
def test_nothing_is_called_lost_that_is_only_late(ppm, burst):
    assert Card(ppm, burst).run(60.0) == []


@pytest.mark.parametrize("ppm", [-200, 0, 200])
@pytest.mark.parametrize("missing", [400, 512, 2048, 96_000])
def test_lost_frames_are_found_with_their_length(ppm, missing):
    card = Card(ppm)
    assert card.run(5.0) == []
    card.missing += missing
    found = card.run(5.0)
    assert len(found) == 1
    assert found[0] == pytest.approx(missing, abs=0.002 * RATE)


def test_with_a_warning_of_the_driver_even_half_a_block_is_found():
    card = Card()
    card.run(5.0)
    card.missing += 128
    found = card.run(2.0, flagged=True)
    assert len(found) == 1
    assert found[0] == pytest.approx(128, abs=48)


def test_a_warning_without_a_loss_is_no_loss():
    card = Card()
    card.run(5.0)
    assert card.run(5.0, flagged=True) == []


def test_a_pause_that_is_made_up_for_is_no_loss():
    """The device stands still for half a second, then hands over everything."""
    card = Card()
    card.run(5.0)
    frozen = card.captured()
    for _ in range(100):
        card.now_s += 0.005
        assert card.watch.step(frozen, card.now_s) is None
    assert card.run(5.0) == []


def test_what_is_suspicious_is_held_back():
    card = Card()
    card.run(5.0)
    card.missing += 1000
    card.now_s += 0.01
    assert card.watch.step(card.captured(), card.now_s) is None


def test_sleep_counts():
    """Linux: clock_gettime(2), CLOCK_BOOTTIME includes the time that the system is suspended."""
    if not hasattr(time, "CLOCK_BOOTTIME"):
        pytest.skip("another system")
    before = time.clock_gettime(time.CLOCK_BOOTTIME)
    assert before <= now_s() <= time.clock_gettime(time.CLOCK_BOOTTIME)


def test_without_a_sound_card_standing_still_is_a_gap(monkeypatch):
    now = [5.0]
    monkeypatch.setattr(module, "now_s", lambda: now[0])
    monkeypatch.setattr(module, "wait", lambda seconds: None)
    port = ClockPort().open()
    for passed_s, lost in ((0.5, 0), (0.99, 0), (60.0, 60 * CLOCK_RATE), (0.01, 0)):
        now[0] += passed_s
        chunk = port.read()
        assert chunk.length_frames == pytest.approx(passed_s * CLOCK_RATE, abs=1)
        assert sum(gap.length_frames for gap in chunk.gaps) == pytest.approx(lost, abs=1)
