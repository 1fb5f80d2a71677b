"""The ensemble through the sound port: on its frames, mixed while it plays, known afterwards."""

from __future__ import annotations

import threading
import time
from dataclasses import replace

import numpy as np
import pytest

from coach.core.timeline import Plan, plan_take
from coach.core.tutti.mixer import first_mix
from coach.ports.click import ClickTrack
from coach.ports.ensemble.port import PIECE_S, EnsemblePort, _Joined
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.track import EnsembleTrack, Mixed
from coach.ports.ensemble.voicing import Waves
from tests.ports.ensemble.making import RATE, apart, band, chord, plan_at
from tests.ports.test_base import BLOCK, Bench

BAND = band(chord(48, 60, 64, 67), apart(60), chord(43, 36), own=1)
MIX = first_mix(BAND)
WAVES = Waves(Synthesis(RATE))


def track_of(plan: Plan, mix=MIX) -> EnsembleTrack:
    return EnsembleTrack(BAND, plan, mix, WAVES)


class Desk:
    """The bench of the sound port with the ensemble's port around it."""

    def __init__(self, monkeypatch, *, background: bool) -> None:
        self.bench = Bench(monkeypatch)
        self.port = EnsemblePort(self.bench.port, track_of, background=background)
        self.bench.run(10)

    def begin(self) -> Plan:
        exercise = plan_at(240.0).exercise
        plan = plan_take(exercise, RATE, self.port.earliest_frame() + RATE)
        self.port.begin(plan)
        return plan

    def run(self, blocks: int) -> None:
        until_s = self.bench.now_s + blocks * BLOCK / RATE
        while self.bench.now_s < until_s - 1e-6:
            self.bench.pass_time(BLOCK / RATE)
            self.bench.chunks.append(self.port.read())

    def wait(self) -> None:
        """Until the notes ahead are made; frames do not pass."""
        while not self.port.ready:
            time.sleep(0.001)
            self.bench.chunks.append(self.port.read())

    def heard(self) -> np.ndarray:
        return self.bench.heard()


@pytest.mark.parametrize("background", [False, True])
def test_clicks_and_ensemble_sound_on_their_frames(monkeypatch, background):
    desk = Desk(monkeypatch, background=background)
    plan = desk.begin()
    desk.wait()
    desk.run(1200)
    heard = desk.heard()
    expected = Mixed(ClickTrack(plan), track_of(plan)).render(0, len(heard))
    assert np.any(ClickTrack(plan).render(0, len(heard)))
    np.testing.assert_array_equal(heard, expected)


def test_what_was_played_out_is_known_to_the_sample(monkeypatch):
    desk = Desk(monkeypatch, background=True)
    plan = desk.begin()
    for blocks, key in ((300, 0), (20, 1), (150, 2)):
        desk.run(blocks)
        desk.port.set_mix(replace(MIX, solo=frozenset({key})))
    desk.run(150)
    desk.port.end()
    desk.run(300)
    heard = desk.heard()
    np.testing.assert_array_equal(desk.port.heard_out(0, len(heard)), heard)
    assert np.any(heard[plan.downbeat_frame :])
    assert not np.any(heard[-BLOCK * 20 :])
    before = desk.port.heard_out(plan.start_frame - 50, 100)
    assert not np.any(before[:50])
    assert before[50] != 0


def test_a_new_mix_is_heard_at_once_and_holds_for_the_next_take(monkeypatch):
    desk = Desk(monkeypatch, background=False)
    plan = desk.begin()
    desk.run(400)
    bass = replace(MIX, solo=frozenset({2}))
    at = desk.port.position() + RATE // 10
    desk.port.set_mix(bass)
    desk.run(200)
    heard = desk.heard()
    expected = Mixed(ClickTrack(plan), track_of(plan, bass)).render(at, len(heard) - at)
    np.testing.assert_array_equal(heard[at:], expected)
    desk.port.end()
    desk.run(50)
    at, plan = len(desk.heard()), desk.begin()
    desk.run(600)
    heard = desk.heard()
    expected = Mixed(ClickTrack(plan), track_of(plan, bass)).render(
        plan.start_frame, len(heard) - plan.start_frame
    )
    np.testing.assert_array_equal(heard[plan.start_frame :], expected)
    assert np.any(heard[plan.downbeat_frame :])


@pytest.mark.parametrize("background", [False, True])
def test_a_voice_moved_while_it_plays_is_heard_from_there(monkeypatch, background):
    """From mono to stereo and back; the bench hears the left side."""
    desk = Desk(monkeypatch, background=background)
    plan = desk.begin()
    desk.wait()
    desk.run(450)
    for pans in ((-1.0, 0.0, 0.5), ()):
        aside = replace(MIX, pans=pans)
        at = desk.port.position() + RATE // 10
        desk.port.set_mix(aside)
        desk.wait()
        desk.run(150)
        heard = desk.heard()
        out = Mixed(ClickTrack(plan), track_of(plan, aside)).render(at, len(heard) - at)
        np.testing.assert_array_equal(heard[at:], out if out.ndim == 1 else out[:, 0])
        assert np.any(heard[at:])
        mean = out if out.ndim == 1 else (out[:, 0] + out[:, 1]) / 2
        np.testing.assert_allclose(desk.port.heard_out(at, len(heard) - at), mean, atol=1e-7)


def test_stereo_that_is_made_in_pieces_joins_the_mono_from_before():
    mono, wide = np.arange(6, dtype=np.float32), np.ones((6, 2), np.float32)
    first, then = (_Fixed(sound) for sound in (wide, mono))
    joined = _Joined(first, 4, then).render(0, 6)
    assert joined.tolist() == [[1, 1]] * 4 + [[4, 4], [5, 5]]
    assert _Joined(then, 4, first).render(2, 3).tolist() == [[2, 2], [3, 3], [1, 1]]
    assert _Joined(then, 4, then).render(2, 3).tolist() == [2, 3, 4]


class _Fixed:
    def __init__(self, sound: np.ndarray) -> None:
        self._sound = sound

    def render(self, frame: int, length_frames: int) -> np.ndarray:
        return self._sound[frame : frame + length_frames]


def test_what_is_not_made_yet_waits_while_the_click_goes_on(monkeypatch):
    gate = threading.Event()
    prepare = EnsembleTrack.prepare

    def held_up(track: EnsembleTrack, frame: int, length_frames: int) -> None:
        assert frame == track.start_frame or gate.wait(20)
        prepare(track, frame, length_frames)

    monkeypatch.setattr(EnsembleTrack, "prepare", held_up)
    desk = Desk(monkeypatch, background=True)
    plan = desk.begin()
    while desk.port._making.ready_frame == plan.downbeat_frame:
        time.sleep(0.001)
    until = plan.downbeat_frame + round(PIECE_S * RATE)
    desk.run((until + RATE // 2) // BLOCK)
    heard = desk.heard()
    gate.set()
    desk.wait()
    both = Mixed(ClickTrack(plan), track_of(plan)).render(0, len(heard))
    assert len(heard) > until + RATE // 4
    np.testing.assert_array_equal(heard[:until], both[:until])
    alone = ClickTrack(plan).render(until, len(heard) - until)
    np.testing.assert_array_equal(heard[until:], alone)
    before = len(heard)
    desk.run(100)
    heard = desk.heard()
    late = before + RATE // 10
    both = Mixed(ClickTrack(plan), track_of(plan)).render(late, len(heard) - late)
    np.testing.assert_array_equal(heard[late:], both)


def test_closing_in_the_middle_leaves_no_thread(monkeypatch):
    desk = Desk(monkeypatch, background=True)
    desk.begin()
    making = desk.port._making
    desk.port.close()
    assert making is None or not making._thread.is_alive()
