"""Takes of real playing: the recorded phrases and staccato takes, with their marks as truth.

What is expected is the truth bent by a random error (a smooth warp, jitter, a constant), so that
whoever reports the expected times is wrong.  The split is by file.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from tests.bed.augment import augmented, bent
from tests.bed.take import RATE, Take, Truth, expected_of, timed

__all__ = ["augmented", "disturbed", "real_takes"]

TEST_STACCATO = "french-horn_C4_phrase_mezzo-forte_staccatissimo"
LEAD_S = 0.3
CLEAR_DIP_DB, CLEAR_UNC_S = -20.0, 0.020


def real_takes(shared_dir: Path | str, split: str, *, seed: int = 0) -> list[Take]:
    """The takes of `split`, "train", "test" or "all": phrases first, then staccato.

    A third of the phrases (every third by name) and one staccato take of three are for the test.
    """
    folder = Path(shared_dir) / "recordings"
    marks = _marks(folder / "phrase_marks.csv")
    takes = []
    for k, path in enumerate(sorted((folder / "phrases").glob("*.csv"))):
        if split in ("all", "test" if k % 3 == 0 else "train"):
            takes.append(_take(path, [_phrase_truth(row, marks, path) for row in _rows(path)]))
    for path in sorted((folder / "staccato").glob("*.csv")):
        if split in ("all", "test" if path.stem == TEST_STACCATO else "train"):
            takes.append(_take(path, [_staccato_truth(row) for row in _rows(path)]))
    rngs = np.random.default_rng(seed).spawn(len(takes))
    return [disturbed(rng, take) for rng, take in zip(rngs, takes, strict=True)]


def disturbed(rng: np.random.Generator, take: Take) -> Take:
    """The take with other expected times: the truth plus a warp, jitter and a constant; the
    verdicts on the timing follow."""
    onsets = bent(rng, np.array([t.attack_s for t in take.truth], dtype=float))
    notes = take.expected["notes"]
    lengths = np.append(np.diff(onsets), notes[-1]["duration_s"])
    expected = expected_of(
        take.expected["instrument"],
        onsets,
        lengths,
        [n["midi"] for n in notes],
        [n["slurred"] for n in notes],
    )
    plain = [replace(t, kind="clean") if t.kind in ("early", "late") else t for t in take.truth]
    return replace(take, expected=expected, truth=timed(plain, expected))


def _take(path: Path, truth: Sequence[Truth]) -> Take:
    samples, rate = soundfile.read(path.with_suffix(".flac"), dtype="float32")
    if rate != RATE:
        raise ValueError(f"{path.stem} has {rate} frames a second")
    # Some phrases begin with the first note: put quiet before it, room for the expected time.
    lead = round(LEAD_S * RATE)
    quiet = np.random.default_rng(1).normal(0, 1e-5, lead).astype(np.float32)
    ends = [float(row["offset_s"]) + LEAD_S for row in _rows(path)]
    truth = [
        replace(t, index=k, attack_s=t.attack_s + LEAD_S)
        for k, t in enumerate(truth)
        if t.attack_s is not None
    ]
    onsets = [t.attack_s or 0.0 for t in truth]
    lengths = [*np.diff(onsets), ends[-1] - onsets[-1]]
    expected = expected_of(
        "horn", onsets, lengths, [t.midi for t in truth], [t.slurred for t in truth]
    )
    return Take(np.concatenate([quiet, samples]), rate, expected, tuple(truth), name=path.stem)


def _phrase_truth(
    row: dict[str, str], marks: dict[tuple[str, int], tuple[str, float, float]], path: Path
) -> Truth:
    kind, dip_db, onset_s = marks[path.stem, int(row["n"])]
    unsure_slur = kind == "unknown" and "_legato" in path.stem
    slurred = int(row["n"]) > 0 and (kind in ("join", "slur") or unsure_slur)
    return Truth(
        0,
        onset_s,
        int(row["midi"]),
        slurred=slurred,
        mark_kind=kind,
        dip_db=dip_db,
        unc_s=float(row["unc_s"]),
    )


def _staccato_truth(row: dict[str, str]) -> Truth:
    bad = "pitch_uncertain" in row["flags"]
    return Truth(
        0,
        float(row["onset_s"]),
        int(row["midi"]),
        mark_kind="unknown" if bad else "staccato",
        dip_db=-60.0,
        unc_s=0.002,
    )


def is_clear(truth: Truth) -> bool:
    """An attack in a phrase whose mark is good for 10 ms."""
    dip = truth.dip_db
    return (
        truth.mark_kind == "attack"
        and dip is not None
        and dip <= CLEAR_DIP_DB
        and truth.unc_s <= CLEAR_UNC_S
    )


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _marks(path: Path) -> dict[tuple[str, int], tuple[str, float, float]]:
    return {
        (row["file"], int(row["n"])): (row["kind"], float(row["dip_db"]), float(row["onset_s"]))
        for row in _rows(path)
    }
