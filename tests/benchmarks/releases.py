"""How well the ends of notes are found: simulated and recorded notes in rooms, against known ends;
recorded single notes against the annotated end of their sound.

    python -m tests.benchmarks.releases [FOLDER of samples and recordings]
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from coach.hear.bend import stop_frame
from coach.hear.noteends import Levels
from coach.ports.player.skill import PlayedNote
from coach.ports.player.tone import render
from tests.bed.leaking import recorded_notes
from tests.bed.room import ROOMS, recorded
from tests.bed.sources import SourceNote
from tests.bed.splice import Part, Shelf, sounded
from tests.bed.take import RATE

TAKES, NOTES = 6, 14
LEAK_S = 0.03
# Start, end, pitch, start of what comes next.
Known = tuple[int, int, int, int]
Made = tuple[np.ndarray, list[Known]]


def simulated(rng: np.random.Generator, count: int = NOTES) -> Made:
    """Notes of a simulated player who lets each go."""
    known = list(_known(rng, range(38, 75), count))
    played = [
        PlayedNote(start, end - start, pitch + rng.normal(0, 0.1), -26 + rng.normal(0, 2))
        for start, end, pitch, _ in known
    ]
    sound = render(played, RATE, 0, known[-1][3] + RATE, seed=int(rng.integers(10**6)))
    return sound.astype(np.float64), known


def spliced(rng: np.random.Generator, notes: list[SourceNote]) -> Made:
    """Recorded notes let go with releases of many shapes."""
    horn = [note for note in notes if note.instrument == "horn"]
    shelf = Shelf(horn, int(rng.integers(3)), rng)
    known = list(_known(rng, shelf.pitches(), NOTES))
    parts = [
        Part(
            start,
            end,
            pitch + rng.normal(0, 0.1),
            0.1,
            round(rng.uniform(0.03, 0.1) * RATE),
            bool(rng.random() < 0.35),
        )
        for start, end, pitch, _ in known
    ]
    return sounded(parts, shelf, known[-1][3] + RATE), known


def _known(rng: np.random.Generator, pitches: range | list[int], count: int) -> Iterator[Known]:
    at = 0.4
    for _ in range(count):
        length, gap = rng.uniform(0.35, 1.3), rng.uniform(0.3, 1.2)
        frames = [round(s * RATE) for s in (at, at + length, at + length + gap)]
        yield frames[0], frames[1], int(rng.choice(pitches)), frames[2]
        at += length + gap


def found(sound: np.ndarray, note: Known) -> int | None:
    """The end of one note as it is measured in a take."""
    start, _, pitch, following = note
    begin = max(0, start - RATE // 10)
    part = sound[begin : following - round(LEAK_S * RATE)]
    at = stop_frame(part, RATE, pitch, start - begin, len(part))
    return None if at is None else begin + at


def figures(errors: list[float | None]) -> str:
    told = np.array([error for error in errors if error is not None])
    middle = float(np.median(told))
    around = float(np.percentile(np.abs(told - middle), 95))
    return f"median {middle:+5.0f} ms, 95 % within {around:4.0f}, told {len(told)} of {len(errors)}"


def in_rooms(name: str, takes: list[Made]) -> None:
    for room in ROOMS:
        bends: list[float | None] = []
        falls: list[float | None] = []
        for number, (sound, known) in enumerate(takes):
            heard = recorded(np.random.default_rng(number), sound, room)
            levels = Levels(heard, RATE)
            for note in known:
                at = found(heard, note)
                bends.append(None if at is None else (at - note[1]) * 1000 / RATE)
                falls.append((levels.end_frame(note[0], note[3]) - note[1]) * 1000 / RATE)
        print(f"{name:10} {room:5} bend       {figures(bends)}")
        print(f"{name:10} {room:5} fall 15 dB {figures(falls)}")


def annotated(folder: Path) -> None:
    """The end of the sound is later than that of the blowing: the spread is what counts."""
    errors: list[float | None] = []
    with (folder / "notes" / "notes.csv").open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if not row["flags"]]
    for row in rows:
        sound, rate = soundfile.read(folder / row["file"], dtype="float32")
        sound = np.concatenate([sound, np.zeros(rate // 2, np.float32)])
        start = round(float(row["onset_s"]) * rate)
        at = stop_frame(sound, rate, int(row["midi"]), start, len(sound))
        errors.append(None if at is None else 1000 * (at / rate - float(row["offset_s"])))
    print(f"{'annotated':16} bend       {figures(errors)}")


def main() -> None:
    shared = Path(sys.argv[1] if len(sys.argv) > 1 else "../shared")
    rngs = [np.random.default_rng(k) for k in range(TAKES)]
    in_rooms("simulated", [simulated(rng) for rng in rngs])
    notes = recorded_notes(shared)
    if notes is not None:
        in_rooms("recorded", [spliced(rng, notes) for rng in rngs])
        annotated(shared / "recordings")


if __name__ == "__main__":
    main()
