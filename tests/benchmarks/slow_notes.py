"""How well slow playing is heard: `python -m tests.benchmarks.slow_notes`.

Beside it the blind tracker alone, which is what it starts from.  "right": a note within 80 ms of
the true start on the true pitch; "extra": notes heard besides, a share of the true ones.  Recorded
horn (20 phrases, 3 staccato takes, 271 single notes) where it lies beside the checkout, and
the simulated player at 2, 4 and 6 notes a second under noise of -65 dB.  The rules of
`hear.slownotes` were adjusted on these very recordings, so other players will do a little worse.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import numpy as np

from coach.core.take import Chunk
from coach.files.audio import read_audio
from coach.hear.blind import BlindEar
from coach.hear.slownotes import hear_slow_notes
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.conftest import SHARED
from tests.making import RATE, plan_of, scale

Notes = list[tuple[float, float | None]]
Case = tuple[np.ndarray, int, Notes]


def slow(sound: np.ndarray, rate: int) -> Notes:
    return [(note.frame / rate, note.pitch) for note in hear_slow_notes(sound, rate)]


def blind(sound: np.ndarray, rate: int) -> Notes:
    ear = BlindEar(rate, lowest_pitch=34)
    attacks = (*ear.feed(Chunk(0, len(sound), sound)).attacks, *ear.finish().attacks)
    return [(attack.frame / rate, attack.pitch) for attack in attacks]


def scored(cases: list[Case], hear: Callable[[np.ndarray, int], Notes]) -> str:
    right = notes = extra = 0
    for sound, rate, truth in cases:
        left = hear(sound, rate)
        heard = len(left)
        found = 0
        for at_s, pitch in truth:
            near = [n for n in left if abs(n[0] - at_s) < 0.08]
            if near:
                nearest = min(near, key=lambda n: abs(n[0] - at_s))
                left.remove(nearest)
                found += 1
                right += nearest[1] is not None and abs(nearest[1] - pitch) < 0.6
        notes, extra = notes + len(truth), extra + heard - found
    return f"right {right / notes:.3f}, extra {extra / notes:.3f}"


def recorded(folder: Path) -> Iterator[Case]:
    for table in sorted(folder.glob("*.csv")):
        with table.open() as file:
            truth = [(float(r["onset_s"]), float(r["midi"])) for r in csv.DictReader(file)]
        yield *read_audio(table.with_suffix(".flac")), truth


def single_notes(folder: Path) -> Iterator[Case]:
    with (folder / "notes" / "notes.csv").open() as file:
        for row in csv.DictReader(file):
            yield *read_audio(folder / row["file"]), [(float(row["onset_s"]), float(row["midi"]))]


def simulated(notes_a_second: int, *, slurred: bool) -> Iterator[Case]:
    for low in (36, 41, 53, 65):
        plan = plan_of(scale(low, 8) * 2, length_beats=Fraction(1), tempo_bpm=60 * notes_a_second)
        dues = tuple(replace(d, slurred=slurred and d.index > 0) for d in plan.dues)
        played = perform(replace(plan, dues=dues), replace(STEADY, jitter_ms=8.0), Random(low))
        sound = render(played, RATE, 0, plan.end_frame + RATE)
        noise = np.random.default_rng(1).standard_normal(len(sound)) * 10 ** (-65 / 20)
        yield (
            (sound + noise).astype(np.float32),
            RATE,
            [(n.frame / RATE, float(n.pitch)) for n in played],
        )


def main() -> None:
    sets: dict[str, list[Case]] = {}
    if SHARED.is_dir():
        folder = SHARED / "recordings"
        sets["recorded phrases"] = list(recorded(folder / "phrases"))
        sets["recorded staccato"] = list(recorded(folder / "staccato"))
        sets["recorded single notes"] = list(single_notes(folder))
    for slurred in (False, True):
        for speed in (2, 4, 6):
            kind = "slurred" if slurred else "tongued"
            sets[f"simulated, {kind}, {speed} a second"] = list(simulated(speed, slurred=slurred))
    for name, cases in sets.items():
        print(f"{name:34} {scored(cases, slow)}   (tracker alone: {scored(cases, blind)})")


if __name__ == "__main__":
    main()
