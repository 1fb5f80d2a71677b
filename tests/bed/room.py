"""Rooms, noise, clicks and gain: what lies between the bell and the recording."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

from coach.ports.click import SOUNDS, click_sound
from tests.bed.take import RATE

Floats = NDArray[np.float64]

ROOMS = ("dry", "typ", "hard")
PEAK_DB = (-24.0, -1.0)
ACTIVE_SHARE_DB = 25.0


def level_of(sound: Floats) -> float:
    """The median RMS over 20 ms of what is within 25 dB of the loudest: the horn's usual level."""
    hop = RATE // 50
    count = len(sound) // hop
    power = np.mean(sound[: count * hop].reshape(count, hop) ** 2, axis=1)
    loud = power[power > power.max() * 10 ** (-ACTIVE_SHARE_DB / 10)]
    return float(np.sqrt(np.median(loud)))


def recorded(
    rng: np.random.Generator, sound: Floats, room: str, clicks: Floats | None = None
) -> NDArray[np.float32]:
    """The sound in a room with its noise, at a random gain: float32 of the same length."""
    if room not in ROOMS:
        raise ValueError(f"there is no room {room!r}")
    level = level_of(sound)
    made = sound if clicks is None else sound + clicks
    if room == "typ":
        made = reverberant(rng, made, rng.uniform(0.25, 0.45), rng.uniform(-14, -6))
        made = made + pink(rng, len(made)) * level * 10 ** (-rng.uniform(28, 32) / 20)
    elif room == "hard":
        made = reverberant(rng, made, rng.uniform(0.7, 1.0), rng.uniform(-8, -1))
        made = made + pink(rng, len(made)) * level * 10 ** (-rng.uniform(18, 22) / 20)
        made = automatic_gain(made)
        if rng.random() < 0.5:
            made = np.asarray(sosfilt(butter(4, 8000, fs=RATE, output="sos"), made))
    else:
        made = made + pink(rng, len(made)) * level * 10 ** (-60 / 20)
    return at_gain(rng, made)


def at_gain(rng: np.random.Generator, sound: Floats) -> NDArray[np.float32]:
    """Scaled so that the peak lies between -24 and -1 dB under full scale."""
    peak = max(1e-9, float(np.max(np.abs(sound))))
    return np.asarray(sound * (10 ** (rng.uniform(*PEAK_DB) / 20) / peak), dtype=np.float32)


def reverberant(rng: np.random.Generator, sound: Floats, t60_s: float, wet_db: float) -> Floats:
    """With the echo of a room: noise that dies away by 60 dB in `t60_s`, darker with time; `wet_db`
    is its energy against the direct sound."""
    count = int(t60_s * RATE)
    t = np.arange(count) / RATE
    bright = rng.standard_normal(count) * 10 ** (-3 * t / (0.55 * t60_s))
    dull = sosfilt(butter(1, 2500, fs=RATE, output="sos"), rng.standard_normal(count))
    tail = 0.5 * bright + dull * 10 ** (-3 * t / t60_s)
    early = int(rng.uniform(0.003, 0.012) * RATE)
    tail[:early] = 0
    tail *= 10 ** (wet_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return np.asarray(fftconvolve(sound, tail)[: len(sound)])


def pink(rng: np.random.Generator, count: int) -> Floats:
    """Noise of RMS 1 whose power falls with frequency, more or less steeply."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.maximum(np.fft.rfftfreq(count, 1 / RATE), 30.0)
    made = np.fft.irfft(spectrum * hz ** (-rng.uniform(0.35, 0.7)), count)
    return np.asarray(made / np.sqrt(np.mean(made**2)))


def automatic_gain(sound: Floats, seconds: float = 0.6) -> Floats:
    """A slow automatic gain that takes back half of each change of level (in dB)."""
    hop = RATE // 100
    count = -(-len(sound) // hop)
    power = np.array([np.mean(sound[k * hop : (k + 1) * hop] ** 2) for k in range(count)])
    keep = np.exp(-0.01 / seconds)
    slow, slows = float(np.mean(power)), []
    for value in power:
        slow = keep * slow + (1 - keep) * float(value)
        slows.append(slow)
    gain = (np.array(slows) / np.mean(power) + 1e-3) ** -0.25
    return np.asarray(sound * np.interp(np.arange(len(sound)), np.arange(count) * hop, gain))


def click_waves(
    rng: np.random.Generator, times_s: Sequence[float], frames: int, level: float
) -> Floats:
    """Clicks at `times_s`, heard through the air up to 3 ms later; the loudest 10 ms of a click
    have the RMS `level`."""
    sound = str(rng.choice([*SOUNDS, "burst"]))
    out = np.zeros(frames)
    delay = rng.uniform(0, 0.003)
    for beat, time_s in enumerate(times_s):
        wave = _click(rng, sound, beat)
        loud = np.sqrt(np.max(np.convolve(wave**2, np.ones(441) / 441, mode="full")))
        at = round((time_s + delay) * RATE)
        if 0 <= at < frames:
            wave = wave[: frames - at] * (level / loud)
            out[at : at + len(wave)] += wave
    return out


def _click(rng: np.random.Generator, sound: str, beat: int) -> Floats:
    if sound != "burst":
        return click_sound(sound, "bar" if beat % 4 == 0 else "beat", RATE).astype(np.float64)
    seed = np.random.default_rng(5 if beat % 4 else 6)  # each stroke sounds the same
    t = np.arange(int(0.02 * RATE)) / RATE
    return np.asarray(seed.standard_normal(len(t)) * np.exp(-t / 0.004))
