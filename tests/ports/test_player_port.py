"""The simulated player as a port, and in a session with the judge."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from coach.core import gate as gating
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Attack, Evidence
from coach.core.timeline import Plan
from coach.errors import CoachError
from coach.ports.player.port import PlayerPort, _echo
from coach.ports.player.skill import STEADY, Fault, PlayedNote, Skill
from coach.roles import Port
from tests.making import RATE, plan_of, scale


class Hand:
    """A clock moved by hand: sleeping moves it."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.slept_s: list[float] = []

    def clock(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.slept_s.append(seconds)
        self.now_s += seconds


def quiet_port(**changes) -> PlayerPort:
    return PlayerPort(RATE, STEADY, realtime=False, room=False, **changes)


def take_of(port: PlayerPort, plan: Plan) -> np.ndarray:
    port.begin(plan)
    blocks = []
    while port.position() < plan.end_frame:
        chunk = port.read()
        assert len(chunk.samples) == chunk.length_frames
        assert chunk.samples.dtype == np.float32
        blocks.append(chunk.samples)
    port.end()
    return np.concatenate(blocks)


def test_it_is_a_port():
    port: Port = quiet_port()
    assert port.rate == RATE
    assert not port.ended


@pytest.mark.parametrize("block_frames", [64, 480, 1000])
def test_chunks_follow_each_other_and_carry_the_notes(block_frames):
    port = quiet_port(block_frames=block_frames)
    assert [port.read().frame for _ in range(3)] == [0, block_frames, 2 * block_frames]
    plan = plan_of(scale(notes=4), downbeat_frame=port.earliest_frame() + 2 * RATE)
    before = port.position()
    samples = take_of(port, plan)
    assert int(np.nonzero(samples)[0][0]) + before == pytest.approx(plan.dues[0].frame, abs=1)


def test_the_same_seed_gives_the_same_takes():
    plan = plan_of(scale(notes=6), length_beats=Fraction(1, 4))
    first, second = (take_of(PlayerPort(RATE, seed=4, realtime=False), plan) for _ in range(2))
    assert np.array_equal(first, second)
    assert not np.array_equal(first, take_of(PlayerPort(RATE, seed=5, realtime=False), plan))


def test_it_stops_playing_when_told():
    port = quiet_port()
    plan = plan_of([60], length_beats=Fraction(4), downbeat_frame=RATE)
    port.begin(plan)
    while port.position() < plan.downbeat_frame + RATE // 2:
        port.read()
    port.end()
    fading = np.concatenate([port.read().samples for _ in range(3)])
    assert np.abs(fading[:48]).max() > 0
    assert np.abs(fading[-480:]).max() == 0


def test_in_real_time_blocks_come_at_real_speed():
    hand = Hand()
    port = PlayerPort(RATE, STEADY, realtime=True, clock=hand.clock, sleep=hand.sleep)
    for _ in range(100):
        port.read()
    assert hand.now_s == pytest.approx(101.0)
    assert port.position() == 100 * 480
    hand.now_s += 0.5
    assert port.position() == pytest.approx(1.5 * RATE, abs=1)
    assert port.earliest_frame() > port.position()
    slept = len(hand.slept_s)
    for _ in range(50):
        port.read()
    assert len(hand.slept_s) == slept, "late blocks come at once"


def test_a_player_stands_still_while_the_computer_sleeps():
    hand = Hand()
    port = PlayerPort(RATE, STEADY, realtime=True, clock=hand.clock, sleep=hand.sleep)
    at = port.read().end_frame
    hand.now_s += 3600
    port.read()
    assert port.position() < at + RATE
    hand.slept_s.clear()
    port.read()
    assert hand.slept_s == [pytest.approx(0.01)]


def test_out_of_real_time_it_never_waits():
    def refuse(_: float) -> None:
        raise AssertionError("slept")

    port = PlayerPort(RATE, STEADY, realtime=False, sleep=refuse)
    take_of(port, plan_of(scale(notes=4)))


def test_the_room_adds_a_floor_and_an_echo_after_the_notes():
    plan = plan_of([60, 60], length_beats=Fraction(1, 4))
    dry = take_of(quiet_port(), plan)
    wet = take_of(PlayerPort(RATE, STEADY, realtime=False), plan)
    floor = np.sqrt(np.mean(wet[: plan.dues[0].frame - 10] ** 2))
    assert 1e-5 < floor < 1e-3
    tail = slice(plan.dues[1].frame + 16000, plan.dues[1].frame + 20000)
    assert np.abs(wet[tail]).max() > 2 * np.abs(dry[tail]).max()


@pytest.mark.parametrize("frames", [0, 1, 1000, 30_000])
def test_the_echo_is_the_sound_convolved_with_the_room(frames):
    """In one piece and in several, against the convolution of numpy."""
    rng = np.random.default_rng(3)
    sound, room = (rng.normal(0, 0.1, n).astype(np.float32) for n in (frames, 500))
    echo = _echo(sound, room)
    true = np.convolve(sound, room)[:frames] if frames else sound
    assert np.allclose(echo, true, atol=1e-6)


def test_another_rate_is_refused():
    with pytest.raises(CoachError, match="use one rate for both"):
        quiet_port().begin(plan_of([60], rate=44100))


def heard(note: PlayedNote) -> Attack:
    """What a perfect ear makes of a note."""
    return Attack(note.frame, note.pitch, note.level_db, settle_frames=note.split_frames, fine=True)


def accuracy(port: PlayerPort, tempo_bpm: float) -> float:
    plan = plan_of(
        scale(53, 8) * 4,
        length_beats=Fraction(1, 4),
        tempo_bpm=tempo_bpm,
        downbeat_frame=port.earliest_frame() + 2 * RATE,
    )
    port.begin(plan)
    port.end()
    judge = Judge(plan.dues, Rules(), RATE)
    judge.step(Evidence(tuple(heard(n) for n in port.played), (), plan.end_frame + RATE))
    judge.finish()
    return judge.report().accuracy


def test_prescribed_takes_move_the_gate_up_and_hold_it():
    faulty = {k: Fault(semitones=2.0) for k in range(0, 32, 4)}
    port = quiet_port(scripts={2: faulty})
    pace, gate = gating.start(80.0, 160.0), gating.Gate()
    tempi = [pace.tempo_bpm]
    for _ in range(3):
        pace = gating.after_take(pace, gate, accuracy(port, pace.tempo_bpm))
        tempi.append(pace.tempo_bpm)
    assert tempi == pytest.approx([80.0, 83.2, 83.2, 86.5], abs=0.05)


def test_a_learning_player_climbs_and_is_held_now_and_then():
    port = PlayerPort(RATE, Skill(ceiling_notes_s=7.0), seed=2, realtime=False, room=False)
    pace, gate = gating.start(80.0, 240.0), gating.Gate(step_percent=6.0)
    passed = []
    for _ in range(14):
        share = accuracy(port, pace.tempo_bpm)
        passed.append(gate.passed(share))
        pace = gating.after_take(pace, gate, share)
    assert passed[0]
    assert not all(passed)
    assert pace.tempo_bpm > 100
    assert port.skill.ceiling_notes_s > 7.0
    assert port.takes == 14
