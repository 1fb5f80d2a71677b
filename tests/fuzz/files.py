"""Scores and sound files, spoiled byte by byte."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from random import Random

import numpy as np
import soundfile

from coach.errors import CoachError
from coach.files.audio import read_audio
from tests.bed.mutated import read_whole, seeds, spoiled
from tests.fuzz.plain import said, sound


@cache
def _scores() -> list[bytes]:
    return [data for files in seeds(None, own=4).values() for data in files]


def score(random: Random, folder: Path) -> str:
    """MusicXML, MIDI and ABC: notes, or one sentence (see also tests/benchmarks/fuzz_scores)."""
    return read_whole(spoiled(random.choice(_scores()), random.choice(_scores()), random))


@cache
def _sounds() -> dict[str, bytes]:
    """The same sound in several formats."""
    samples, rate = soundfile.read(io.BytesIO(sound()), dtype="float32")
    made = {"wav": sound()}
    for ending, kind in (("flac", "PCM_16"), ("ogg", "VORBIS"), ("aiff", "PCM_24")):
        out = io.BytesIO()
        soundfile.write(out, samples, rate, format=ending.upper(), subtype=kind)
        made[ending] = out.getvalue()
    out = io.BytesIO()
    soundfile.write(out, samples, rate, format="WAV", subtype="FLOAT")
    return {**made, "float.wav": out.getvalue()}


def sound_file(random: Random, folder: Path) -> str:
    """Samples that are numbers, or one sentence."""
    name = random.choice(list(_sounds()))
    other = random.choice(list(_sounds().values()))
    path = folder / f"take.{name}"
    path.write_bytes(spoiled(_sounds()[name], other, random))
    try:
        samples, rate = read_audio(path)
    except CoachError as error:
        return said(error)
    assert np.isfinite(samples).all()
    assert len(samples) > 0
    assert 16_000 <= rate <= 192_000
    return "sound"
