"""`coach tuner` on recordings, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest

from coach.core.pitch import hz_of_midi
from coach.files.audio import write_audio
from tests.cli.test_bad_input import coach, refused
from tests.hear.test_period import RATE, brass


@pytest.fixture(scope="module")
def two_tones(tmp_path_factory):
    """F3 sounding 6 cents high, then a just third above a true F3."""
    silence = np.zeros(RATE // 2)
    low = brass(hz_of_midi(53.06), 2 * RATE)
    third = brass(hz_of_midi(53) * 5 / 4, 2 * RATE)
    path = tmp_path_factory.mktemp("tuner") / "tones.wav"
    write_audio(path, np.concatenate([low, silence, third]).astype(np.float32), RATE)
    return path


def test_long_tones_are_told(two_tones):
    done = coach("tuner", "--input", two_tones, "--instrument", "double-horn")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[1].startswith("F3 +6.0 cents for 1.")
    assert "written C4" in lines[1]
    assert lines[2].startswith("A3 -13.7 cents")


def test_just_above_the_drone(two_tones):
    done = coach("tuner", "--input", two_tones, "--drone", "F3", "--just")
    lines = done.stdout.splitlines()
    assert "A3" in lines[2]
    assert abs(float(lines[2].split()[1])) < 0.1
    assert "the just note lies -13.7" in lines[2]


def test_silence(tmp_path):
    path = tmp_path / "silence.wav"
    write_audio(path, np.zeros(RATE, np.float32), RATE)
    done = coach("tuner", "--input", path)
    assert done.returncode == 0
    assert "No note was held" in done.stdout


@pytest.mark.parametrize(
    "options",
    [
        ["--drone", "H3"], ["--drone", "C9"], ["--a4", "300"], ["--drone-level", "3"],
        ["--input", "midi"], ["--instrument", "comb"], ["--seconds", "0"],
    ],
)  # fmt: skip
def test_options_out_of_range(options):
    refused(coach("tuner", *options), options[1])


def test_just_without_a_drone():
    refused(coach("tuner", "--just"), "--just", "--drone")
