"""How near bars are found in recordings whose bars are known, and how well tapped.

`python -m tests.benchmarks.align [SOUNDFONT]`: made-up songs, and the beginnings of orchestral
movements kept beside the checkout where they are there, each played with a tempo that comes and
goes by 15 % and slows down at the end, in a room (tests/bed/ensemble.py), or by a sound font where
tinysoundfont is installed.  Errors in ms, over bar lines between the first attack and the last.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from coach.core.score.choose import Choice
from coach.core.tutti.bars import tapped
from coach.core.tutti.ensemble import Voice
from coach.core.tutti.making import excerpt_of
from coach.files.scorefile import read_score
from coach.hear.align import align
from tests.bed.ensemble import RATE, Rubato, beats_of, recorded, song

SCORES = Path(__file__).parents[3] / "shared" / "scores" / "orchestra"
# Movement, bars, a usual tempo in quarter notes a minute.
MOVEMENTS = (
    ("Beethoven_Op.55_1", "1-60", 150),
    ("Beethoven_Op.21_2", "1-60", 100),
    ("Beethoven_Op.60_4", "1-50", 130),
    ("Haydn_104_1", "17-70", 120),
    ("Brahms_Op.98_1", "1-50", 110),
    ("Brahms_Op.73_1", "1-60", 110),
)
Case = tuple[str, Sequence[Voice], tuple[Fraction, ...], float]


def cases() -> Iterator[Case]:
    for seed in range(3):
        yield f"song {seed}", song(seed, 24), beats_of(Fraction(96), Fraction(4)), 96
    for name, bars, bpm in MOVEMENTS:
        path = SCORES / f"{name}.mxl"
        if path.exists():
            excerpt = excerpt_of(read_score(path), Choice("1", bars), 0)
            into = excerpt.line.bars[0].into
            beats = [bar.start + into for bar in excerpt.line.bars if bar.start + into >= 0]
            yield name, excerpt.ensemble.voices, tuple(beats), bpm


def played_by_font(
    font: str, voices: Sequence[Voice], tempo: Rubato, lead_s: float
) -> tuple[np.ndarray, int]:
    """The same by a sound font (General MIDI programs)."""
    import tinysoundfont

    synth = tinysoundfont.Synth(samplerate=RATE, gain=-12)
    number = synth.sfload(font)
    events = []
    for voice_number, voice in enumerate(voices):
        channel = voice_number % 64
        synth.program_select(channel, number, 0, voice.program)
        for note in voice.notes:
            at, end = tempo.seconds([float(note.start_beats), float(note.end_beats)]) + lead_s
            events.append((at, 1, channel, note))
            events.append((max(at + 0.03, end - 0.01), 0, channel, note))
    events.sort(key=lambda event: event[:2])
    parts, done = [], 0
    for at, on, channel, note in events:
        due = round(at * RATE)
        if due > done:
            parts.append(np.frombuffer(synth.generate(due - done), np.float32).reshape(-1, 2))
            done = due
        if on:
            synth.noteon(channel, note.pitch, note.velocity)
        else:
            synth.noteoff(channel, note.pitch)
    parts.append(np.frombuffer(synth.generate(2 * RATE), np.float32).reshape(-1, 2))
    sound = np.concatenate(parts).mean(axis=1)
    return sound + np.random.default_rng(0).normal(0, 1e-4, len(sound)).astype(np.float32), RATE


def errors_ms(case: Case, seed: int, font: str | None) -> tuple[np.ndarray, np.ndarray, float]:
    """(errors, how sure, seconds it took)."""
    _, voices, beats, bpm = case
    end = max(float(note.end_beats) for voice in voices for note in voice.notes)
    tempo = Rubato(bpm * (0.85 + 0.1 * seed), end, 0.15, 13 + 4 * seed, seed, end - 12)
    lead_s = 1.0 + 2 * seed
    if font:
        samples, rate = played_by_font(font, voices, tempo, lead_s)
    else:
        samples, rate = recorded(voices, tempo, seed, lead_s)
    notes = [note for voice in voices for note in voice.notes]
    start = time.perf_counter()
    found = align(samples, rate, notes, beats, bpm=bpm)
    took = time.perf_counter() - start
    off = np.array(found.positions.frames) / rate - lead_s
    off -= tempo.seconds([float(beat) for beat in beats])
    inside = [found.from_beat <= beat <= found.to_beat for beat in beats]
    return 1000 * off[inside], np.array(found.positions.sure)[inside], took


def taps_ms(seed: int) -> np.ndarray:
    tempo = Rubato(96, 64, 0.15, 13 + seed % 7, seed, 52, 0.7)
    beats = tuple(Fraction(k) for k in range(64))
    true = tempo.seconds([float(beat) for beat in beats]) + 5
    taps = np.rint((true + np.random.default_rng(seed).normal(0, 0.03, 64)) * RATE).astype(int)
    found = tapped(np.delete(taps, 20 + seed % 20).tolist(), beats, RATE)
    return 1000 * (np.array(found.frames) / RATE - true)


def row(name: str, errors: np.ndarray, more: str = "") -> str:
    off = np.abs(errors)
    return (
        f"{name:22}{len(off):6}{np.median(errors):8.0f}{np.median(off):8.0f}"
        f"{np.percentile(off, 95):8.0f}{off.max():8.0f}  {more}"
    )


def main(font: str | None) -> None:
    print(f"{'':22}{'bars':>6}{'bias':>8}{'median':>8}{'95 %':>8}{'worst':>8}  sure, seconds")
    everything = []
    for case in cases():
        results = [errors_ms(case, seed, font) for seed in range(2 if font else 3)]
        errors = np.concatenate([result[0] for result in results])
        everything.append(errors)
        sure = np.median(np.concatenate([result[1] for result in results]))
        print(row(case[0], errors, f"{sure:.2f} {sum(r[2] for r in results):.1f}"), flush=True)
    print(row("all", np.concatenate(everything)))
    print(row("taps, 30 ms, 1 missed", np.concatenate([taps_ms(seed) for seed in range(100)])))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)
