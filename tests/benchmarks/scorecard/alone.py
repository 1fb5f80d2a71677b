"""Work whose memory is measured: each function runs in a process of its own, and imports no more
than it needs."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

WINDOW = 480


def ear_hears(folder: str) -> int:
    """A take heard and judged as it comes in; how many attacks."""
    from coach.core.expected import Expected
    from coach.core.judge import Judge
    from coach.core.rules import Rules
    from coach.core.take import Chunk
    from coach.hear.follow.ear import FollowEar
    from tests.benchmarks.scorecard.blocks import RATE, blocks

    expected = json.loads(Path(folder, "take.json").read_text(encoding="utf-8"))
    dues = Expected.from_dict(expected).dues(RATE)
    ear, judge = FollowEar(dues, RATE), Judge(dues, Rules(), RATE)
    for frame, block in blocks(_samples(folder)):
        judge.step(ear.feed(Chunk(frame, len(block), block)))  # type: ignore[arg-type]
    return len(judge.heard)


def aubio_hears(folder: str) -> int:
    """How many onsets of the same take."""
    from tests.benchmarks.scorecard.blocks import by_aubio

    return by_aubio(_samples(folder))


def _samples(folder: str) -> Any:
    """Float32 (n,), out of the file as they are asked for."""
    import numpy as np

    return np.load(Path(folder) / "take.npy", mmap_mode="r")


def coach_assesses(folder: str) -> int:
    """The whole command."""
    from coach.cli import main

    sound, expected, out = (str(Path(folder, n)) for n in ("long.wav", "long.json", "out.json"))
    with contextlib.redirect_stdout(io.StringIO()):
        return main(["assess", sound, "--expect", expected, "--json", out])


def librosa_hears(folder: str) -> int:
    """Onsets and pitches of the same file."""
    import librosa

    samples, rate = librosa.load(Path(folder, "long.wav"), sr=None)
    librosa.yin(samples, fmin=50, fmax=1100, sr=rate)
    return len(librosa.onset.onset_detect(y=samples, sr=rate))


def coach_reads(path: str) -> int:
    from coach.files.scorefile import read_score

    return len(read_score(Path(path)).parts)


def music21_reads(path: str) -> int:
    from tests.benchmarks.scorecard.scorefiles import music21_of

    return len(music21_of(Path(path)).parts)


def movement_sounds(path: str) -> float:
    """Every frame of all parts, in pieces as they are asked for; the length in seconds."""
    from tests.benchmarks.ensemble import orchestra
    from tests.benchmarks.scorecard.blocks import RATE
    from tests.benchmarks.scorecard.voices import laid_out

    track = laid_out(orchestra(Path(path)))
    for frame in range(0, track.end_frame, WINDOW):
        track.render(frame, WINDOW)
    return track.end_frame / RATE
