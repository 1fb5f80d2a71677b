"""The click as sound: synthesised, placed to the frame, the same however it is cut into windows."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from coach.core.timeline import Plan
from coach.errors import CoachError

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Voice:
    """Partials (ratio, strength) over a pitch that dies away by 60 dB in `decay_s`."""

    pitch_hz: float
    partials: tuple[tuple[float, float], ...]
    decay_s: float


# The ratios are those of a free bar (1 : 2.76 : 5.40) for the wood and near those of a small bell
# for the bell; from memory, chosen by ear for a sharp start over a brass sound.
SOUNDS = {
    "wood": _Voice(1100.0, ((1.0, 1.0), (2.76, 0.5), (5.40, 0.2)), 0.05),
    "bell": _Voice(1568.0, ((1.0, 1.0), (2.0, 0.4), (3.0, 0.3), (4.2, 0.15)), 0.18),
    "tick": _Voice(3200.0, ((1.0, 1.0), (1.6, 0.7)), 0.012),
}
# Pitch ratio and level in dB: the first beat of a bar stands out, a part of a beat stays behind.
KINDS = {"bar": (1.5, 0.0), "beat": (1.0, -3.0), "part": (0.75, -9.0)}


class Track(Protocol):
    """Something to sound."""

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32, mono of shape (length_frames,) or stereo of shape
        (length_frames, 2), left and right; which of them may differ from window to window."""
        ...


class Placed:
    """Sounds placed at frames: `render` mixes any window of them."""

    def __init__(self, sounds: Iterable[tuple[int, Samples]]) -> None:
        self._sounds = sorted(sounds, key=lambda sound: sound[0])
        self._starts = [start for start, _ in self._sounds]
        self._longest = max((len(wave) for _, wave in self._sounds), default=0)

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32 of shape (length_frames,)."""
        out = np.zeros(length_frames, np.float32)
        first = bisect_right(self._starts, frame - self._longest)
        last = bisect_left(self._starts, frame + length_frames)
        for start, wave in self._sounds[first:last]:
            begin, end = max(start, frame), min(start + len(wave), frame + length_frames)
            if begin < end:
                out[begin - frame : end - frame] += wave[begin - start : end - start]
        return out


class ClickTrack(Placed):
    """The clicks of a plan; the first sample of each that is not zero falls on its frame."""

    def __init__(self, plan: Plan) -> None:
        style = plan.exercise.click
        # Never above full scale, whatever a file asks for: it goes into somebody's ears.
        gain = np.float32(10 ** (min(style.level_db, 0.0) / 20))
        waves = {kind: gain * click_sound(style.sound, kind, plan.rate) for kind in KINDS}
        super().__init__((click.frame, waves[click.kind]) for click in plan.clicks)


SILENCE = Placed(())


@lru_cache(maxsize=32)
def click_sound(sound: str, kind: str, rate: int) -> Samples:
    """One click, float32 of shape (n,), peak 1 for a "bar" and less for the other kinds.

    Raises CoachError for a sound that does not exist.
    """
    if sound not in SOUNDS:
        known = ", ".join(SOUNDS)
        raise CoachError(f"there is no click sound {sound!r}", hint=f"choose one of {known}")
    voice = SOUNDS[sound]
    ratio, level_db = KINDS[kind]
    t = np.arange(1, round(voice.decay_s * rate) + 1) / rate
    wave = np.zeros(len(t))
    for partial, strength in voice.partials:
        pitch_hz = voice.pitch_hz * ratio * partial
        if pitch_hz < rate / 2:
            wave += strength * np.sin(2 * np.pi * pitch_hz * t)
    wave *= 10 ** (-3 * t / voice.decay_s)
    wave *= 10 ** (level_db / 20) / np.max(np.abs(wave))
    made = wave.astype(np.float32)
    made.flags.writeable = False
    return made
