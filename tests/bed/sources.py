"""Single recorded notes, measured and split for good into training and test.

The audio lies beside the checkout and is no part of the project.  The split is by instrument and
pitch: of each three neighbouring pitches of an instrument one (by a stable hash) is for the test,
so a note heard in the test never occurred in training, in no dynamic and no length.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bed.take import RATE

Samples = NDArray[np.float32]

BAD_FLAGS = ("detuned", "unstable_f0", "pitch_uncertain", "noisy_lead_in", "label_differs")
SWELLING = ("crescendo", "cresc-decresc")
PRE_S = 0.02
# The tables mark a note over 35 cents off as detuned (left out here), so a greater figure is an
# error of ours; 10 cents is the median of the rest.
FARTHEST_CENTS, USUAL_CENTS = 36.0, 10.0
DYNAMICS = {"pp": 0, "p": 0, "mf": 1, "f": 2, "ff": 2, "v1": 0, "v2": 0, "v3": 1, "v4": 2, "v5": 2}


@dataclass(frozen=True, slots=True)
class SourceNote:
    """One note: float32 mono at 44,100; frames in it of the physical start, of half amplitude, of
    the last moment of full tone and of the end; `midi` as measured; `level` the RMS of its tone;
    `dynamic` 0 soft, 1 middle, 2 loud."""

    samples: Samples
    onset_frame: int
    t50_frame: int
    body_end_frame: int
    end_frame: int
    midi: float
    level: float
    instrument: str
    dynamic: int
    name: str


def load_notes(shared_dir: Path | str, split: str) -> list[SourceNote]:
    """The notes of `split`, "train" or "test" (or "all"), in a fixed order."""
    rows = [*_sample_rows(Path(shared_dir)), *_recorded_rows(Path(shared_dir))]
    wanted = _split(rows)
    return [
        _loaded(row) for row in rows if split == "all" or wanted[row.instrument, row.midi] == split
    ]


@dataclass(frozen=True, slots=True)
class _Row:
    path: Path
    onset_s: float
    t50_s: float
    end_s: float
    midi: int
    cents_known: float | None
    instrument: str
    dynamic: int


def _sample_rows(shared_dir: Path) -> Iterator[_Row]:
    folder = shared_dir / "samples"
    for row in _table(folder / "manifest.csv"):
        if _good(row["flags"]):
            known = float(row["midi_meas"])
            dynamic = DYNAMICS.get(row["dynamic"][:2].strip(), 1)
            yield _Row(
                folder / row["file"],
                float(row["onset_s"]),
                float(row["t50"]),
                float(row["offset_s"]) - 0.05,
                round(known),
                known,
                row["instrument"],
                dynamic,
            )


def _recorded_rows(shared_dir: Path) -> Iterator[_Row]:
    folder = shared_dir / "recordings"
    for row in _table(folder / "notes" / "notes.csv"):
        if _good(row["flags"]) and row["dynamic"] not in SWELLING:
            yield _Row(
                folder / row["file"],
                float(row["onset_s"]),
                float(row["t50_s"]),
                float(row["offset_s"]),
                int(row["midi"]),
                None,
                "horn",
                DYNAMICS[row["dynamic"]],
            )


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _good(flags: str) -> bool:
    return not any(bad in flags for bad in BAD_FLAGS)


def _split(rows: Sequence[_Row]) -> dict[tuple[str, int], str]:
    found: dict[tuple[str, int], str] = {}
    for instrument in {row.instrument for row in rows}:
        pitches = sorted({row.midi for row in rows if row.instrument == instrument})
        for low in range(0, len(pitches), 3):
            three = pitches[low : low + 3]
            digest = hashlib.sha256(f"{instrument}/{three[0]}".encode()).digest()
            chosen = three[digest[0] % 3] if len(three) == 3 else None
            found |= {(instrument, p): "test" if p == chosen else "train" for p in three}
    return found


def _loaded(row: _Row) -> SourceNote:
    samples, rate = soundfile.read(row.path, dtype="float32", always_2d=True)
    if rate != RATE:
        raise ValueError(f"{row.path.name} has {rate} frames a second")
    mono = np.ascontiguousarray(samples.mean(axis=1))
    begin = max(0, round((row.onset_s - PRE_S) * RATE))
    end = min(len(mono), round((row.end_s + 0.3) * RATE))
    at = [round(t * RATE) - begin for t in (row.onset_s, row.t50_s, row.end_s)]
    note = SourceNote(
        mono[begin:end], at[0], at[1], at[2], at[2], 0.0, 1.0, row.instrument, row.dynamic,
        row.path.stem,
    )  # fmt: skip
    level, body_end = _body(note)
    midi = row.cents_known
    if midi is None:
        midi = measured_midi(note.samples[note.t50_frame : body_end], row.midi)
    return replace(note, level=level, body_end_frame=body_end, midi=midi)


def _body(note: SourceNote) -> tuple[float, int]:
    """RMS of the tone, and the last frame at which it is within 4 dB of that."""
    hop = 441
    tone = note.samples[note.t50_frame : note.end_frame].astype(np.float64)
    count = max(1, len(tone) // hop)
    power = np.add.reduceat(tone**2, np.arange(count) * hop) / hop
    smooth = np.convolve(power, np.ones(3) / 3, mode="same")
    level = float(np.sqrt(np.median(smooth[: max(3, round(0.7 * count))])))
    loud = np.flatnonzero(smooth >= level**2 * 10**-0.4)
    last = int(loud[-1]) if len(loud) else count - 1
    return max(level, 1e-6), note.t50_frame + last * hop


def measured_midi(tone: Samples, nominal: int) -> float:
    """Pitch of a steady tone within 60 cents of `nominal`: the greatest sum of the logarithm of its
    harmonics' power over a fine search."""
    part = tone[: RATE // 2] if len(tone) >= 2048 else np.pad(tone, (0, 2048))
    size = 1 << 17
    power = np.abs(np.fft.rfft(part * np.hanning(len(part)), size)) ** 2
    floor = power.max() * 1e-7 + 1e-20
    cents = np.arange(-60, 61, 2)
    f0 = 440 * 2 ** ((nominal - 69 + cents / 100) / 12)
    harmonics = np.arange(1, 9)
    bins = np.outer(f0, harmonics) * size / RATE
    strength = np.log(power[np.clip(np.round(bins).astype(int), 0, size // 2)] + floor)
    found = float(cents[np.argmax(strength.sum(axis=1))])
    return nominal + (found if abs(found) <= FARTHEST_CENTS else USUAL_CENTS) / 100
