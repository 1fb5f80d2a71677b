"""Takes that keep to no click: the playing starts anywhere, and at the player's own tempo.

`freed` puts something before a take and writes the same notes at another tempo, so that the true
start and tempo are known.  The truth is a line: the least-squares line of the true attacks over the
written onsets, for nobody can know what grid a player had in mind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import butter, sosfilt

from coach.core.anchor import FASTEST, SLOWEST
from tests.bed.room import level_of
from tests.bed.take import RATE, Take, expected_of

LATEST_START_S = 4.0
WRITTEN_LEAD_S = 2.0
START_S, TEMPO_SHARE = 0.060, 0.02
LEADS = ("noise", "breath", "warm-up")
NOISE_S, FADE_S = 0.2, 0.02
BREATH_DB = (-32.0, -20.0)
PAUSE_S = (0.4, 1.0)
FRAME_S, ABOVE_NOISE_DB = 0.01, 10.0


@dataclass(frozen=True, slots=True)
class FreeTake:
    """One performance written twice: `free` as the player does not play it (anchor "free"), `grid`
    with the times that were meant.  `start_s` is where the first note lies on the line through the
    true attacks, `tempo_ratio` the player's tempo on it against the written one of `free`."""

    free: Take
    grid: Take
    start_s: float
    tempo_ratio: float


def freed(
    rng: np.random.Generator, take: Take, lead: str = "noise", warm_up: Take | None = None
) -> FreeTake:
    """`take` with up to 4 s of `lead` before it, written 0.7 to 1.4 times as slowly.

    Lead "noise": the noise of the recording; "breath": the player breathes in before the start;
    "warm-up": a few notes (of `warm_up`) and a pause before it.
    """
    if lead not in LEADS or (lead == "warm-up") != (warm_up is not None):
        raise ValueError(f"there is no lead {lead!r}, or its notes are missing")
    first_s = min(t.attack_s for t in take.truth if t.attack_s is not None)
    longest_s = LATEST_START_S - min(first_s, LATEST_START_S)
    before = _noise(rng, take, round(rng.uniform(0, longest_s) * RATE))
    if lead == "breath":
        before = _breathed(rng, before, take)
    if warm_up is not None:
        before = np.concatenate([before, _warmed(rng, warm_up, take)])
    later_s = len(before) / RATE
    grid = _later(take, np.concatenate([before, take.samples]), later_s)
    ratio = float(rng.uniform(SLOWEST, FASTEST))
    onsets = np.array(grid.onsets_s)
    start_s, slope = _line(grid)
    written = rng.uniform(0, WRITTEN_LEAD_S) + (onsets - onsets[0]) * ratio
    expected = _expected(grid, written, ratio) | {"anchor": "free"}
    return FreeTake(replace(grid, expected=expected), grid, start_s, ratio / slope)


def first_sound_s(samples: np.ndarray) -> float:
    """The first 30 ms that stand 10 dB above the noise of the recording (its quietest tenth)."""
    hop = round(FRAME_S * RATE)
    count = len(samples) // hop
    power = np.mean(samples[: count * hop].reshape(count, hop).astype(float) ** 2, axis=1)
    loud = power > np.percentile(power, 10) * 10 ** (ABOVE_NOISE_DB / 10) + 1e-12
    lasting = np.convolve(loud, np.ones(3), mode="valid") == 3
    return float(np.argmax(lasting)) * FRAME_S


def _line(take: Take) -> tuple[float, float]:
    """(where the first note lies, slope) of the line through the true attacks over the onsets."""
    onsets = np.array(take.onsets_s)
    known = [(onsets[t.index], t.attack_s) for t in take.truth if t.attack_s is not None]
    at, attacks = np.array(known, dtype=float).T
    slope, base = np.polyfit(at - onsets[0], attacks, 1)
    return float(base), float(slope)


def _expected(take: Take, onsets_s: np.ndarray, ratio: float) -> dict[str, object]:
    notes = take.expected["notes"]
    return expected_of(
        take.expected["instrument"],
        onsets_s.tolist(),
        [n["duration_s"] * ratio for n in notes],
        [n["midi"] for n in notes],
        [n["slurred"] for n in notes],
    )


def _later(take: Take, samples: np.ndarray, later_s: float) -> Take:
    truth = tuple(
        replace(t, attack_s=None if t.attack_s is None else t.attack_s + later_s)
        for t in take.truth
    )
    return replace(
        take,
        samples=samples.astype(np.float32),
        expected=_expected(take, np.array(take.onsets_s) + later_s, 1.0),
        truth=truth,
        extras=tuple(e + later_s for e in take.extras),
    )


def _noise(rng: np.random.Generator, take: Take, frames: int) -> np.ndarray:
    """Noise like that before the first note: its spectrum, with other phases."""
    quiet = take.samples[: round(NOISE_S * RATE)].astype(float)
    size = max(frames, 1)
    strength = np.abs(np.fft.rfft(quiet * np.hanning(len(quiet))))
    white = np.fft.rfft(rng.standard_normal(size))
    shape = np.interp(np.linspace(0, 1, len(white)), np.linspace(0, 1, len(strength)), strength)
    made = np.fft.irfft(white * shape, size)[:frames]
    wanted = float(np.sqrt(np.mean(quiet**2)))
    return np.asarray(made * (wanted / (float(np.sqrt(np.mean(made**2))) + 1e-12 if frames else 1)))


def _breathed(rng: np.random.Generator, before: np.ndarray, take: Take) -> np.ndarray:
    """A breath, rising and falling, that ends shortly before the first note's sound."""
    count = round(rng.uniform(0.3, 0.7) * RATE)
    band = (float(rng.uniform(300, 800)), float(rng.uniform(2500, 6000)))
    wave = sosfilt(butter(2, band, "bandpass", fs=RATE, output="sos"), rng.standard_normal(count))
    wave *= np.sin(np.pi * np.arange(count) / count) ** 1.5
    level = level_of(take.samples.astype(float)) * 10 ** (rng.uniform(*BREATH_DB) / 20)
    wave *= level / np.sqrt(np.mean(wave**2))
    made = np.concatenate([np.zeros(max(0, count - len(before))), before])
    made[-count:] += wave
    return made


def _warmed(rng: np.random.Generator, warm_up: Take, take: Take) -> np.ndarray:
    """A few notes as loud as the take, and a pause in its noise."""
    played = warm_up.samples.astype(float)
    # The room of the warm-up is its own; its last echo fades into the pause.
    level = level_of(take.samples.astype(float)) / max(1e-9, level_of(played))
    fade = round(FADE_S * RATE)
    played[-fade:] *= np.linspace(1, 0, fade)
    pause = _noise(rng, take, round(rng.uniform(*PAUSE_S) * RATE))
    return np.concatenate([played * level, pause])
