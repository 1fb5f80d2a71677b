"""`coach listen` on a sound card: what comes out of it while a take is played back."""

from __future__ import annotations

import numpy as np
import pytest

from coach.book.practice import PracticeBook
from coach.core.playback import Slowed
from tests.cli.test_listen import keep, playing
from tests.studio.conftest import RATE

pytestmark = pytest.mark.studio

AUDIBLE, QUIET_FRAMES = 1e-4, RATE // 30


def starts(samples: np.ndarray) -> np.ndarray:
    """The first audible sample after each short quiet."""
    audible = np.flatnonzero(np.abs(samples) > AUDIBLE)
    return audible[np.diff(audible, prepend=-RATE) > QUIET_FRAMES]


def test_a_take_is_heard_slower_with_its_clicks(studio, tmp_path, monkeypatch):
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    take, sound = playing(1, 20.0)
    with PracticeBook(tmp_path / "practice.sqlite") as book:
        keep(book, take, sound)
    plan = take.plan
    slowed = Slowed(plan, 0.5, RATE, plan.start_frame)
    heard = tmp_path / "heard.npy"
    player = studio.player()
    frames = slowed.at(plan.dues[6].frame)
    player.send({"do": "record", "frames": frames, "path": str(heard)})
    coach = studio.start("-m", "coach", "listen", "--plain", COACH_HOME=str(tmp_path))
    player.expect("recorded")
    told, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    assert "invented, take 1 at 100, played back at half speed." in told
    recorded = np.load(heard).astype(float)
    # The player may be connected only after the first click: what follows has its place by those
    # of the count-in, to the frame.
    count_in = [
        click.frame for click in slowed.clicks() if click.frame < slowed.at(plan.dues[0].frame)
    ]
    steps = np.diff(starts(recorded))[:2]
    assert np.max(np.abs(steps - np.diff(count_in)[:2])) <= 1
    first = starts(recorded)[0]
    music = recorded[first + count_in[-1] : first + slowed.at(plan.dues[3].frame)]
    assert np.std(music) > 0.01
