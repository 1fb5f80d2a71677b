"""`coach tutti` on a sound card: all that comes out of it is the click and the ensemble, and the
player is heard through it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from coach.book.practice import PracticeBook
from coach.core.score.choose import Choice
from coach.core.tutti.mixer import first_mix
from coach.files.scoretutti import score_tutti
from coach.ports.click import ClickTrack
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.track import EnsembleTrack, Mixed
from coach.ports.ensemble.voicing import Waves
from tests.cli.test_tutti import write_score
from tests.studio.conftest import RATE
from tests.studio.tutti import at_level, horn, in_time, invented, room, start, told

pytestmark = pytest.mark.studio

# A bar before the entry, a bar at 120 and one at 90, the count-in, and some more.
HEARD_S = 13
CHOICE = Choice("Horn", "4-5")


def test_the_ensemble_sounds_to_the_sample_through_a_change_of_tempo(studio, tmp_path):
    score = write_score(tmp_path / "evening.mid")
    heard = tmp_path / "heard.npy"
    player = studio.player()
    player.send({"do": "record", "frames": HEARD_S * RATE, "path": str(heard)})
    words = (str(score), "--part", "Horn", "--bars", "4-5", "--lead", "1", "--tempo", "120")
    options = ("--takes", "1", "--plain", "--simple-sound", "--no-sound")
    coach = studio.start("-m", "coach", "tutti", *words, *options, COACH_HOME=str(tmp_path))
    player.expect("recorded")
    told, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    assert "Take 1:" in told
    with PracticeBook(tmp_path / "practice.sqlite") as book:
        ((take,), [row]) = book.takes(), book.take_rows()
    assert row.notes == 16
    plan = take.plan
    _, _, ensemble = score_tutti(score, CHOICE, 1)
    track = EnsembleTrack(ensemble, plan, first_mix(ensemble), Waves(Synthesis(RATE)))
    sounded = Mixed(ClickTrack(plan), track)
    expected = sounded.render(plan.downbeat_frame, plan.end_frame - plan.downbeat_frame)
    recorded = np.load(heard)
    # Where the take lies in the recording: the change of tempo makes the place unmistakable.
    start = int(np.argmax(fftconvolve(recorded, expected[::-1], "valid")))
    assert np.max(np.abs(expected)) > 0.05
    np.testing.assert_allclose(recorded[start : start + len(expected)], expected, atol=1e-6)


def test_the_player_is_heard_through_the_loudspeakers(studio, tmp_path):
    """The ensemble comes back through a room, 10 dB under the horn.  Of these notes 56 % are judged
    right if nothing is taken away, all offline if it is."""
    excerpt = invented(np.random.default_rng(3), None, tmp_path, notes_per_s=8, count=16)
    rng = np.random.default_rng(1003)
    heard = horn(rng, excerpt)
    answer = at_level(excerpt, heard, room(rng, "typ"), -10.0)
    player = studio.player()
    coach, events = start(studio, player, excerpt, heard, answer, tmp_path)
    _, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    assert in_time(player)
    assert told(excerpt, events).right > 0.8
