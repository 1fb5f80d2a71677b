"""`coach learn` and `coach tuner` on a sound card: a player in another process, and a drone."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from coach.core.exercise import Exercise
from coach.core.pitch import hz_of_midi
from coach.core.timeline import plan_take
from coach.files.drillshelf import load_drill
from coach.hear.tuner import Tuner
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.cli.test_learn import PLAYED, rhythm

pytestmark = pytest.mark.studio

RATE = 48_000
PICKUP_FRAMES = RATE // 2


def test_a_passage_is_learned_from_a_live_player(studio, tmp_path):
    plan = plan_take(Exercise(PLAYED, 72), RATE, PICKUP_FRAMES)
    notes = perform(plan, replace(STEADY, jitter_ms=10.0), Random(5))
    np.save(tmp_path / "played.npy", render(notes, RATE, 0, plan.end_frame + RATE))
    player = studio.player()
    player.send(
        {
            "do": "take",
            "count_in": 4,
            "audio": str(tmp_path / "played.npy"),
            "downbeat_frame": PICKUP_FRAMES,
        }
    )
    path = tmp_path / "learned.toml"
    coach = studio.start(
        "-m", "coach", "learn", "--bpm", "72", "--bars", "2", "--out", str(path), "--yes"
    )
    player.expect("locked")
    _, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    assert rhythm(load_drill(path)[0].variants[0]) == rhythm(PLAYED)


def test_a_drone_that_comes_back_is_not_taken_for_a_note(studio, tmp_path):
    player = studio.player()
    heard = tmp_path / "heard.npy"
    player.send({"do": "loop", "delay_frames": 480})
    player.send({"do": "record", "frames": 3 * RATE, "path": str(heard)})
    coach = studio.start("-m", "coach", "tuner", "--drone", "F3", "--seconds", "5", "--plain")
    player.expect("recorded")
    told, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    assert "Keep the drone softer" in told
    assert "No note was held" in told
    readings = Tuner(RATE).feed(0, np.load(heard)[RATE : 2 * RATE])
    # A card stopped for a block by other work spoils the few readings around it.
    right = [r for r in readings if r.hz == pytest.approx(hz_of_midi(53), rel=1e-5)]
    assert len(right) >= 0.7 * len(readings)
    assert len(readings) > 10
