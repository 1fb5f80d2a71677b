"""The sound of the ensemble in figures: `python -m tests.benchmarks.ensemble [SOUNDFONT] [SCORE]`.

A made-up movement of 10 minutes and 8 voices (six of single notes, two of double stops, 4 notes a
second each), and a whole movement of an orchestra beside the checkout (or SCORE).  For each, with
the embedded synthesis and, if given, the font:

- `laid out`: seconds until the track stands
- `real time`: how many times faster than it sounds it is made, all notes for the first time, in
  windows of 10 ms as the sound port asks for them
- `again`: the same of 20 s (the ring) when all its notes are made: what a change of the mix costs
- `kept`: MB of notes held at the end; `peak`: MB of memory that the process has taken at most
"""

from __future__ import annotations

import random
import resource
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from coach.core.exercise import Exercise
from coach.core.passage import Passage
from coach.core.score.choose import Choice
from coach.core.timeline import plan_take
from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.tutti.making import excerpt_of
from coach.core.tutti.mixer import first_mix
from coach.files.scorefile import read_score
from coach.ports.ensemble.soundfont import SoundFont
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.track import EnsembleTrack
from coach.ports.ensemble.voicing import Waves
from tests.conftest import SHARED

RATE, BPM, WINDOW = 48_000, 120.0, 480
MOVEMENT = SHARED / "scores" / "orchestra" / "Beethoven_Op.55_1.mxl"
PROGRAMS = (73, 71, 60, 56, 40, 41, 42, 43)


def invented(minutes: int = 10) -> Ensemble:
    rng, beats = random.Random(5), minutes * int(BPM)
    voices = []
    for number, program in enumerate(PROGRAMS):
        notes = [
            Sounded(
                Fraction(k, 2), Fraction(1, 2), 84 - 5 * number - rng.randrange(12) - 7 * double
            )
            for k in range(2 * beats)
            for double in range(2 if number >= 6 else 1)
        ]
        voices.append(Voice(f"voice {number}", program, tuple(notes)))
    return Ensemble(tuple(voices), 2, Fraction(beats))


def orchestra(path: Path) -> Ensemble:
    score = read_score(path)
    name = next(part.name for part in score.parts if any(bar.heads for bar in part.bars))
    return excerpt_of(score, Choice(part=name), 0).ensemble


def measured(title: str, ensemble: Ensemble, font: Path | None) -> None:
    waves = Waves(SoundFont(font, RATE) if font else Synthesis(RATE))
    exercise = Exercise(Passage(()), BPM, warp=ensemble.warp)
    plan = replace(plan_take(exercise, RATE, 0), end_frame=0)
    began_s = time.perf_counter()
    track = EnsembleTrack(ensemble, plan, first_mix(ensemble), waves)
    laid_out_s = time.perf_counter() - began_s
    began_s = time.perf_counter()
    peak = 0.0
    for at in range(0, track.end_frame, WINDOW):
        peak = max(peak, float(np.max(np.abs(track.render(at, WINDOW)))))
    made_s = time.perf_counter() - began_s
    ring = 20 * RATE
    last = track.end_frame - ring
    track.render(last, ring)
    began_s = time.perf_counter()
    track.render(last, ring)
    again_s = time.perf_counter() - began_s
    notes = sum(len(voice.notes) for voice in ensemble.voices)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{title:28} {len(ensemble.voices):3} voices {notes:6} notes"
        f" {track.end_frame / RATE:5.0f} s:"
        f" laid out {laid_out_s:.2f} s, real time x{track.end_frame / RATE / made_s:.0f},"
        f" again {again_s * 1000:.0f} ms, kept {waves.kept_bytes / 2**20:.0f} MB,"
        f" peak {memory:.0f} MB, loudest {20 * np.log10(peak):.1f} dB"
    )


def main() -> None:
    given = [Path(name) for name in sys.argv[1:]]
    font = next((path for path in given if path.suffix.lower() in (".sf2", ".sf3")), None)
    score = next((path for path in given if path != font), MOVEMENT)
    for voicing in [None, font] if font else [None]:
        name = voicing.name if voicing else "embedded"
        measured(f"invented, {name}", invented(), voicing)
        if score.is_file():
            measured(f"{score.stem}, {name}", orchestra(score), voicing)


if __name__ == "__main__":
    main()
