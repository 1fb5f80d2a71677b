"""The simulated player beside recorded horn notes and phrases (not part of this project): the same
measure taken of both."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
import soundfile

from coach.ports.player.skill import PlayedNote
from coach.ports.player.tone import render

pytestmark = pytest.mark.shared

REGISTER_TOPS = (45, 52, 59, 66, 127)


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as lines:
        return list(csv.DictReader(lines))


def envelope(samples: np.ndarray, rate: int, pitch: float) -> np.ndarray:
    """RMS over the longer of a period and 4 ms."""
    width = int(max(0.004, 2 ** ((69 - pitch) / 12) / 440) * rate)
    return np.sqrt(np.convolve(samples**2, np.ones(width) / width, "same") + 1e-14)


def half_ms(samples: np.ndarray, rate: int, pitch: int, start_s: float) -> float:
    """From the start to half of the highest level of the first 0.3 s."""
    begin = int((start_s - 0.05) * rate)
    piece = envelope(samples[begin : begin + int(0.4 * rate)].astype(float), rate, pitch)
    piece = piece[int(0.05 * rate) :]
    return float(np.nonzero(piece >= 0.5 * piece[: int(0.3 * rate)].max())[0][0] * 1000 / rate)


def test_notes_rise_as_recorded_ones_do(shared_dir):
    """Median time to half amplitude in five registers, within 35 % of the recorded notes'."""
    folder = shared_dir / "recordings"
    recorded, rendered = defaultdict(list), defaultdict(list)
    for row in rows_of(folder / "notes" / "notes.csv"):
        start_s, end_s, pitch = float(row["onset_s"]), float(row["offset_s"]), int(row["midi"])
        if row["dynamic"] not in ("p", "mf", "f", "ff") or start_s < 0.05:
            continue
        samples, rate = soundfile.read(folder / row["file"])
        register = next(k for k, top in enumerate(REGISTER_TOPS) if pitch <= top)
        recorded[register].append(half_ms(samples, rate, pitch, start_s))
        note = PlayedNote(rate // 2, int(max(0.1, end_s - start_s - 0.2) * rate), pitch, -26.0)
        made = render([note], rate, 0, 2 * rate, seed=len(recorded[register]))
        rendered[register].append(half_ms(made, rate, pitch, 0.5))
    assert sorted(recorded) == [0, 1, 2, 3, 4]
    for register, times in recorded.items():
        assert len(times) >= 20
        assert np.median(rendered[register]) == pytest.approx(np.median(times), rel=0.35)


def test_slurs_dip_as_recorded_ones_do(shared_dir):
    """Median dip of the level at slurs and legato joins, within 4 dB of the recorded phrases'."""
    folder = shared_dir / "recordings"
    recorded, rendered = [], []
    for row in rows_of(folder / "phrase_marks.csv"):
        if row["kind"] not in ("slur", "join"):
            continue
        marks = rows_of(folder / "phrases" / f"{row['file']}.csv")
        old, new = (int(marks[int(row["n"]) + k]["midi"]) for k in (-1, 0))
        samples, rate = soundfile.read(folder / "phrases" / f"{row['file']}.flac")
        recorded.append(dip_db(samples, rate, float(row["onset_s"]), min(old, new)))
        notes = (
            PlayedNote(rate // 2, rate, old, -26.0),
            PlayedNote(3 * rate // 2, rate, new, -26.0, slurred=True),
        )
        made = render(notes, rate, 0, 3 * rate, seed=len(recorded))
        rendered.append(dip_db(made, rate, 1.5, min(old, new)))
    assert len(recorded) >= 10
    assert np.median(rendered) == pytest.approx(np.median(recorded), abs=4)


def dip_db(samples: np.ndarray, rate: int, at_s: float, pitch: int) -> float:
    """The lowest level within 0.1 s against the softer of the two notes around."""
    piece = samples[int((at_s - 0.4) * rate) : int((at_s + 0.4) * rate)].astype(float)
    level = 20 * np.log10(envelope(piece, rate, pitch))
    middle, reach = int(0.4 * rate), int(0.1 * rate)
    around = min(np.median(level[reach : 2 * reach]), np.median(level[-2 * reach : -reach]))
    return float(level[middle - reach : middle + reach].min() - around)
