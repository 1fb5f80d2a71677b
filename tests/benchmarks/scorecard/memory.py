"""The most memory that whole pieces of work take, each in a process of its own."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from tests.benchmarks.scorecard.live import played
from tests.benchmarks.scorecard.processes import apart
from tests.benchmarks.scorecard.rows import Figure
from tests.benchmarks.scorecard.scorefiles import movements

TAKE_S, QUICK_TAKE_S = 60, 10
LONG_S, QUICK_LONG_S = 600, 30


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.MEMORY."""
    take_s, long_s = (QUICK_TAKE_S, QUICK_LONG_S) if quick else (TAKE_S, LONG_S)
    with tempfile.TemporaryDirectory() as folder:
        write_take(Path(folder), take_s)
        write_long(Path(folder), long_s)
        take, long = (
            [apart("alone", work, folder=folder)[1] for work in two]
            for two in (("ear_hears", "aubio_hears"), ("coach_assesses", "librosa_hears"))
        )
    return {
        "take": Figure(*take, f"{take_s} s"),
        "assess": Figure(*long, f"{long_s} s"),
        **_movement(movements()[0 if quick else -1]),
    }


def _movement(path: Path) -> dict[str, Figure]:
    (seconds, sounding_mb), (_, ours_mb), (_, theirs_mb) = (
        apart("alone", work, path=str(path))
        for work in ("movement_sounds", "coach_reads", "music21_reads")
    )
    n = f"{seconds:,.0f} s"
    return {
        "movement": Figure(sounding_mb, theirs_mb, n),
        "reading": Figure(ours_mb, theirs_mb, n),
    }


def write_take(folder: Path, seconds: int) -> None:
    """A fast take, as samples and expected notes."""
    take = played(seconds)
    np.save(folder / "take.npy", take.samples)
    (folder / "take.json").write_text(json.dumps(take.expected), encoding="utf-8")


def write_long(folder: Path, seconds: int) -> None:
    """The same take again and again until it is so long, as a file and the expected notes."""
    take = played(min(seconds, TAKE_S))
    length_s = len(take.samples) / take.rate
    times = max(1, round(seconds / length_s))
    notes = [
        note | {"onset_s": note["onset_s"] + k * length_s}
        for k in range(times)
        for note in take.expected["notes"]
    ]
    expected = json.dumps(take.expected | {"notes": notes})
    (folder / "long.json").write_text(expected, encoding="utf-8")
    soundfile.write(folder / "long.wav", np.tile(take.samples, times), take.rate)
