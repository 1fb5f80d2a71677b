"""The sound port over an engine without a device; the clock is driven by hand."""

from __future__ import annotations

import numpy as np
import pytest

from coach.errors import DeviceAwayError, DeviceError
from coach.ports import away, base
from coach.ports.base import SoundPort
from coach.ports.click import ClickTrack
from coach.ports.ring import copy_wrapped, ring_length, store_wrapped
from coach.ports.settings import SoundSettings
from tests.making import plan_of

RATE, BLOCK, RING = 48_000, 256, 1 << 15


class Wire:
    """An engine whose output comes straight back at its input, `delay` frames later."""

    may_return = True
    name, rate, block_frames, ring_frames = "wire", RATE, BLOCK, RING

    def __init__(self, delay: int = 0, players: int = 1) -> None:
        self.players = players
        self.alive, self.flowing, self.warnings = True, True, 0
        self.plugged, self.rate_again, self.tries = True, RATE, 0
        self.out = np.zeros((RING, 2), np.float32)
        self.sounded = np.zeros(0, np.float32)
        self.delay = delay

    def open(self) -> None:
        pass

    def close(self) -> None:
        self.alive = False

    def again(self) -> None:
        self.tries += 1
        if not self.plugged:
            raise DeviceError("it is not there")
        self.alive = True
        self.rate = self.rate_again

    def prepare(self) -> None:
        self.out[:] = 0
        self.at = self.read = self.stored = 0

    def go(self) -> None:
        self.flowing = True

    def run(self, frames: int) -> None:
        """The device takes so many frames in and out, or stops when a ring is full or dry."""
        room = min(frames, RING - (self.at - self.read), self.stored - self.at)
        self.flowing = room == frames
        block = np.zeros((room, 2), np.float32)
        copy_wrapped(self.out, self.at, block)
        self.sounded = np.concatenate([self.sounded, block[:, 0]])
        self.at += room

    def taken(self) -> np.ndarray:
        came, self.read = self.at - self.read, self.at
        padded = np.concatenate([np.zeros(self.delay, np.float32), self.sounded])
        heard = padded[len(self.sounded) - came : len(self.sounded)]
        return np.stack([heard / (k + 1) for k in range(self.players)], axis=1)

    def played(self) -> int:
        return self.at

    def store(self, frame: int, samples: np.ndarray) -> None:
        assert frame >= self.at
        assert frame + len(samples) <= self.at + RING
        store_wrapped(self.out, frame, samples)
        self.stored = max(self.stored, frame + len(samples))


class Bench:
    """A port, its wire and the hand that drives the clock."""

    def __init__(self, monkeypatch, delay: int = 0) -> None:
        self.now_s, self.lost_s, self.done = 10.0, 0.0, 0
        monkeypatch.setattr(base, "now_s", lambda: self.now_s)
        monkeypatch.setattr(base, "wait", self.pass_time)
        monkeypatch.setattr(away, "now_s", lambda: self.now_s)
        monkeypatch.setattr(away, "wait", self.pass_time)
        self.wire = Wire(delay)
        self.port = SoundPort(self.wire, SoundSettings(), round_trip_frames=delay)
        self.port.open()
        self.chunks = []

    def pass_time(self, seconds: float, *, dead: bool = False) -> None:
        """The device goes with the clock, a block at a time; `dead`: these frames are lost."""
        self.now_s += seconds
        if dead:
            self.lost_s += seconds
        due = round((self.now_s - 10.0 - self.lost_s) * RATE)
        while self.done + BLOCK <= due:
            self.done += BLOCK
            if self.wire.flowing:
                self.wire.run(BLOCK)

    def run(self, blocks: int) -> None:
        until_s = self.now_s + blocks * BLOCK / RATE
        while self.now_s < until_s - 1e-6:
            self.pass_time(BLOCK / RATE)
            self.chunks.append(self.port.read())

    def heard(self) -> np.ndarray:
        return np.concatenate([c.samples for c in self.chunks])

    def gaps(self) -> list[tuple[int, int]]:
        return [(g.frame, g.length_frames) for c in self.chunks for g in c.gaps]


@pytest.fixture
def bench(monkeypatch):
    return Bench(monkeypatch)


def placed_plan(port):
    """A plan whose first count-in click is the earliest possible frame."""
    return plan_of([60] * 8, tempo_bpm=300.0, downbeat_frame=port.earliest_frame() + 38_400)


@pytest.mark.parametrize("delay", [0, 777])
def test_a_click_is_heard_at_its_frame_whatever_the_round_trip(monkeypatch, delay):
    bench = Bench(monkeypatch, delay)
    bench.run(20)
    plan = placed_plan(bench.port)
    bench.port.begin(plan)
    bench.run(400)
    start = bench.chunks[0].frame
    assert start == -delay
    expected = ClickTrack(plan).render(start, len(bench.heard()))
    assert np.array_equal(bench.heard(), expected)
    assert all(b.frame == a.end_frame for a, b in zip(bench.chunks, bench.chunks[1:], strict=False))
    assert bench.port.position() == bench.chunks[-1].end_frame


def test_after_the_end_it_is_silent(bench):
    bench.port.begin(placed_plan(bench.port))
    bench.run(100)
    bench.port.end()
    bench.run(10)
    before = len(bench.heard())
    bench.run(200)
    assert np.any(bench.heard()[:before])
    assert not np.any(bench.heard()[before:])


def test_lost_frames_are_silence_on_a_true_axis(bench):
    bench.run(300)
    plan = placed_plan(bench.port)
    bench.port.begin(plan)
    bench.run(100)
    bench.pass_time(1000 / RATE, dead=True)
    bench.run(400)
    (gap,) = bench.gaps()
    assert gap[0] == 400 * BLOCK
    assert gap[1] == pytest.approx(1000, abs=2)
    heard = bench.heard()
    assert not np.any(heard[gap[0] : gap[0] + gap[1]])
    settled = gap[0] + gap[1] + round(0.2 * RATE)
    expected = ClickTrack(plan).render(0, len(heard))
    assert np.array_equal(heard[settled:], expected[settled:])
    assert np.any(heard[settled:])


def test_when_the_ring_runs_over_the_session_goes_on(bench):
    bench.run(300)
    plan = placed_plan(bench.port)
    bench.port.begin(plan)
    bench.run(50)
    bench.pass_time(2.0)  # without a read; the ring holds 0.7 s
    assert not bench.wire.flowing
    bench.run(400)
    lost = sum(length for _, length in bench.gaps())
    filled = RING - 3 * BLOCK  # the output is written two to three blocks short of a whole ring
    assert lost == pytest.approx(2 * RATE - filled, abs=2 * BLOCK)
    passed = round((bench.now_s - 10.0) * RATE)
    assert bench.chunks[-1].end_frame == pytest.approx(passed, abs=2 * BLOCK)
    heard = bench.heard()
    settled = bench.gaps()[-1][0] + bench.gaps()[-1][1] + round(0.2 * RATE)
    expected = ClickTrack(plan).render(0, len(heard))
    assert np.array_equal(heard[settled:], expected[settled:])


def test_a_long_loss_comes_a_second_at_a_time(bench):
    bench.run(300)
    bench.pass_time(1.9, dead=True)
    bench.run(300)
    assert [length for _, length in bench.gaps()] == [RATE, pytest.approx(0.9 * RATE, abs=2)]


def test_a_stopped_device_is_one_sentence(bench):
    bench.run(10)
    bench.wire.alive = False
    with pytest.raises(DeviceError, match="wire: the sound device stopped; see that it is") as e:
        bench.port.read()
    assert e.value.exit_status == 3


def test_a_device_that_sends_nothing_is_given_up_after_two_seconds(bench):
    bench.run(10)
    bench.wire.run = lambda frames: None
    came_s = bench.now_s
    with pytest.raises(DeviceError, match="no sound has come for two seconds"):
        bench.run(1000)
    assert bench.now_s - came_s == pytest.approx(2.0, abs=0.05)


def test_standing_still_ourselves_is_no_silence(bench):
    """Stopped for a minute, and nothing has come at the first look: the device gets its time."""
    bench.run(300)
    bench.pass_time(60.0, dead=True)
    bench.port.read()
    bench.run(400)
    assert sum(length for _, length in bench.gaps()) == base.LOSS_LIMIT_S * RATE
    assert not bench.gaps()[-1][0] > bench.chunks[-1].end_frame


def test_after_a_loss_of_hours_the_clock_fits_again(bench):
    bench.run(300)
    bench.pass_time(8 * 3600.0, dead=True)
    bench.run(400)
    plan = placed_plan(bench.port)
    bench.port.begin(plan)
    bench.run(400)
    heard = bench.heard()
    expected = ClickTrack(plan).render(bench.chunks[0].frame, len(heard))
    assert np.array_equal(heard, expected)
    assert bench.port.frame_at(bench.now_s) == pytest.approx(bench.port.position(), abs=BLOCK)


def unplug(bench: Bench) -> None:
    bench.wire.alive = bench.wire.plugged = False
    bench.port.end()


def until_back(bench: Bench, looks: int = 200) -> int:
    """How often it was said that the device is away."""
    for said in range(looks):
        try:
            bench.chunks.append(bench.port.read())
        except DeviceAwayError:
            bench.pass_time(0.05)
        else:
            return said
    return looks


def test_an_unplugged_device_is_away_until_it_is_plugged_in_again(bench):
    bench.run(300)
    bench.port.begin(placed_plan(bench.port))
    bench.run(100)
    bench.pass_time(0.05, dead=True)
    bench.run(4)  # what comes after a loss is held back for a while
    unplug(bench)
    assert until_back(bench, 100) == 100
    before = bench.port.position()
    bench.wire.plugged = True
    assert until_back(bench) < 30
    assert bench.chunks[-1].frame >= before
    bench.chunks.clear()
    plan = placed_plan(bench.port)
    bench.port.begin(plan)
    bench.run(400)
    expected = ClickTrack(plan).render(bench.chunks[0].frame, len(bench.heard()))
    assert np.array_equal(bench.heard(), expected)
    assert np.any(expected)
    assert bench.gaps() == []


def test_a_device_that_stays_away_is_given_up(bench):
    bench.run(10)
    unplug(bench)
    with pytest.raises(DeviceError, match="stopped and did not come back in two minutes"):
        until_back(bench, 10_000)


def test_a_stream_that_stood_still_goes_on_by_itself(bench):
    bench.run(300)
    run, bench.wire.run = bench.wire.run, lambda frames: None
    bench.wire.plugged = False  # opening it again would fail
    with pytest.raises(DeviceAwayError, match="no sound has come"):
        bench.run(1000)
    assert until_back(bench, 40) == 40
    assert bench.wire.tries == 0  # it is left alone at first
    bench.wire.run = run
    assert until_back(bench) < 5
    bench.run(400)
    assert bench.gaps() == []


def test_one_that_comes_back_at_another_rate_ends_the_session(bench):
    bench.run(10)
    unplug(bench)
    bench.wire.plugged, bench.wire.rate_again = True, 44_100
    with pytest.raises(DeviceError, match="came back with 44100 frames a second") as error:
        until_back(bench)
    assert not isinstance(error.value, DeviceAwayError)


def test_another_rate_than_the_one_asked_for_is_told(bench):
    assert bench.port.notice == ""
    bench.wire.rate = 44_100
    assert bench.port.notice == "wire cannot run at 48000 Hz: it runs at 44100 Hz."


def test_the_ring_wraps():
    ring = np.zeros((8, 2), np.float32)
    store_wrapped(ring, 6, np.arange(1, 6, dtype=np.float32))
    out = np.zeros((5, 2), np.float32)
    copy_wrapped(ring, 6, out)
    assert out[:, 0].tolist() == out[:, 1].tolist() == [1, 2, 3, 4, 5]
    assert [ring_length(n) for n in (1, 2, 3, 1000, 1024)] == [1, 2, 4, 1024, 1024]
