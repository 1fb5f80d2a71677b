"""An invented eight-part excerpt around a horn line, and how the others leak into the microphone.

The seven others play chords that hold the horn's pitch, one a half note: a bass in quarters, held
chords, a part that moves in eighths, and one that goes in the horn's rhythm a third above.  They
begin two bars before the horn.  Everything is made up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

from tests.bed.render import make_take
from tests.bed.room import level_of, pink, reverberant
from tests.bed.sources import SourceNote, load_notes
from tests.bed.synthetic import synthetic_take
from tests.bed.take import RATE, Take

Floats = NDArray[np.float64]
Sort = tuple[float, float, float]

LEAD_BARS, SHORT_IN_BAR = 2, 16
BEFORE_S = 0.3  # of silence
CHORDS = ((0, 4, 7), (0, 3, 7))
NOISE_DB = -45.0
PARTIALS, HIGHEST_HZ, RELEASE_S = 16, 9000.0, 0.06
# (the power with which partials fall, attack in s, vibrato in semitones)
STRINGS, REED, BRASS = (1.1, 0.06, 0.12), (0.7, 0.025, 0.08), (0.9, 0.03, 0.0)
# (around which pitch, which tone of the chord, sound)
HELD = ((52, 1, STRINGS), (55, 2, BRASS), (64, 0, STRINGS), (72, 1, STRINGS))
# Echo in s and its energy against the direct sound in dB, as in `room.recorded`.
ROOMS = {"typ": ((0.25, 0.45), (-14.0, -6.0)), "hard": ((0.7, 1.0), (-8.0, -1.0))}


@dataclass(frozen=True, slots=True)
class Sung:
    """One note of the others; `voice` counts from 0, the bass, to 6, the part in the horn's
    rhythm."""

    start_s: float
    length_s: float
    midi: int
    level: float
    sort: Sort
    voice: int


@dataclass(frozen=True, slots=True)
class Tutti:
    """`take` is the horn alone with its truth, `played` (float64, as long) what came out of the
    loudspeakers, RMS 1 while the horn plays; `first_s` the horn's entry; `others` all notes of the
    seven, from `first_s` less LEAD_BARS on."""

    take: Take
    played: Floats
    first_s: float
    others: tuple[Sung, ...]


def tutti(
    rng: np.random.Generator,
    notes: Sequence[SourceNote] | None,
    *,
    notes_per_s: float = 6.0,
    count: int = 32,
) -> Tutti:
    """The horn with mistakes (spliced from `notes`; simulated without) and the others."""
    how: dict[str, Any] = {"notes_per_s": notes_per_s, "count": count, "faults": True}
    take = make_take(rng, notes, **how) if notes else synthetic_take(rng, **how)
    lead_s = LEAD_BARS * SHORT_IN_BAR / notes_per_s
    moved = _later(take, BEFORE_S + lead_s - take.onsets_s[0])
    others = _others(rng, moved, 1 / notes_per_s)
    played = _sound(rng, others, len(moved.samples))
    first_s = moved.onsets_s[0]
    return Tutti(moved, played / _rms(played[round(first_s * RATE) :]), first_s, tuple(others))


def leaked(rng: np.random.Generator, made: Tutti, leak_db: float | None, room: str) -> Take:
    """The take as the microphone hears it: the others at `leak_db` (their RMS against the horn's
    usual level) through `room`, and a little noise; None: the player wears headphones."""
    heard = alone(rng, made.take)
    if leak_db is not None:
        leak = fftconvolve(made.played, response(rng, room))[: len(heard)]
        level = level_of(made.take.samples.astype(np.float64))
        heard = heard + leak * level * leak_gain(leak[round(made.first_s * RATE) :], leak_db)
    return replace(made.take, samples=heard.astype(np.float32))


def alone(rng: np.random.Generator, take: Take) -> Floats:
    """The horn and a little noise."""
    horn = take.samples.astype(np.float64)
    return np.asarray(horn + level_of(horn) * 10 ** (NOISE_DB / 20) * pink(rng, len(horn)))


def leak_gain(leak: Floats, leak_db: float) -> float:
    """What the others, as they are heard while the horn plays, are multiplied with to be at
    `leak_db` against a horn of level 1."""
    return float(10 ** (leak_db / 20) / _rms(leak))


def response(rng: np.random.Generator, room: str) -> Floats:
    """From loudspeaker to microphone, one second: 2 to 6 ms of air, the band of a small
    loudspeaker, the echo of `room`."""
    t60_s, wet_db = ROOMS[room]
    pulse = np.zeros(RATE)
    pulse[round(rng.uniform(0.002, 0.006) * RATE)] = 1.0
    pulse = np.asarray(sosfilt(butter(2, (90, 14_000), "bandpass", fs=RATE, output="sos"), pulse))
    return reverberant(rng, pulse, rng.uniform(*t60_s), rng.uniform(*wet_db))


def recorded_notes(shared: Path) -> list[SourceNote] | None:
    """Recorded notes that nothing was trained on; None where there are none."""
    return load_notes(shared, "test") if shared.is_dir() else None


def _rms(sound: Floats) -> float:
    return float(np.sqrt(np.mean(sound**2)))


def _later(take: Take, by_s: float) -> Take:
    """The take after silence."""
    frames = round(by_s * RATE)
    by_s = frames / RATE
    notes = [n | {"onset_s": round(n["onset_s"] + by_s, 6)} for n in take.expected["notes"]]
    truth = tuple(
        t if t.attack_s is None else replace(t, attack_s=t.attack_s + by_s) for t in take.truth
    )
    return replace(
        take,
        samples=np.concatenate([np.zeros(frames, np.float32), take.samples]),
        expected=take.expected | {"notes": notes},
        truth=truth,
        extras=tuple(at + by_s for at in take.extras),
    )


def _others(rng: np.random.Generator, take: Take, short_s: float) -> list[Sung]:
    """All notes of the seven, around the horn's dues."""
    starts = np.array(take.onsets_s)
    pitches = [n["midi"] for n in take.expected["notes"]]
    begin = float(starts[0]) - LEAD_BARS * SHORT_IN_BAR * short_s
    sung: list[Sung] = []
    for at in np.arange(begin, starts[-1] + 8 * short_s, 8 * short_s):
        chord = _chord(rng, pitches[int(np.argmin(np.abs(starts - at)))])
        sung += _under(rng, chord, float(at), short_s)
    lead = [begin + 2 * k * short_s for k in range(LEAD_BARS * SHORT_IN_BAR // 2)]
    along = [(at, pitches[k % len(pitches)], 1.8 * short_s) for k, at in enumerate(lead)]
    along += [(float(at), p, 0.9 * short_s) for at, p in zip(starts, pitches, strict=True)]
    return sung + [Sung(at, n, p + int(rng.integers(3, 5)), 0.5, REED, 6) for at, p, n in along]


def _chord(rng: np.random.Generator, pitch: int) -> list[int]:
    """Three pitch classes, that of `pitch` among them."""
    steps = CHORDS[int(rng.integers(len(CHORDS)))]
    root = pitch - steps[int(rng.integers(3))]
    return [(root + step) % 12 for step in steps]


def _near(tone: int, middle: int) -> int:
    return middle + (tone - middle + 6) % 12 - 6


def _under(rng: np.random.Generator, chord: list[int], at: float, short_s: float) -> list[Sung]:
    """Half a bar of the bass, the held parts and the moving one."""
    sung = [
        Sung(at + 4 * k * short_s, 3.6 * short_s, _near(chord[2 * k], 40), 1.0, STRINGS, 0)
        for k in (0, 1)
    ]
    for voice, (middle, tone, sort) in enumerate(HELD, 1):
        sung.append(Sung(at, 7.8 * short_s, _near(chord[tone], middle), 0.6, sort, voice))
    for k in range(4):
        passing = int(rng.integers(-2, 3)) if k % 2 else 0
        pitch = _near(chord[k % 3], 67) + passing
        sung.append(Sung(at + 2 * k * short_s, 1.8 * short_s, pitch, 0.6, REED, 5))
    return sung


def _sound(rng: np.random.Generator, sung: Sequence[Sung], frames: int) -> Floats:
    out = np.zeros(frames)
    for note in sung:
        at = round(note.start_s * RATE)
        wave = _tone(rng, note)[: max(0, frames - at)]
        out[at : at + len(wave)] += wave
    return out


def _tone(rng: np.random.Generator, note: Sung) -> Floats:
    power, attack_s, vibrato = note.sort
    t = np.arange(round((note.length_s + RELEASE_S) * RATE)) / RATE
    bend = vibrato * np.sin(2 * np.pi * (5.3 * t + rng.random())) * np.minimum(1, t / 0.2)
    hz = 440 * 2 ** ((note.midi + rng.normal(0, 0.03) + bend - 69) / 12)
    phase = 2 * np.pi * np.cumsum(hz) / RATE
    wave = np.zeros(len(t))
    for k in range(1, PARTIALS + 1):
        if k * float(hz.max()) < HIGHEST_HZ:
            wave += np.sin(k * phase + 2 * np.pi * rng.random()) * k**-power
    ends = np.minimum(1, t / attack_s) * np.clip((t[-1] - t) / RELEASE_S, 0, 1)
    return np.asarray(note.level * wave * ends)
