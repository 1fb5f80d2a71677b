"""Notes cut from recorded ones and joined: what a `Part` says, as sound.

A tongued note keeps its recorded start; its end is a release of random shape (or, now and then, its
own recorded release).  A slurred note starts inside the steady part of its source and is faded in
over the end of the old one, with equal power.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from tests.bed.sources import SourceNote
from tests.bed.take import RATE

Floats = NDArray[np.float64]

PRE_FRAMES = 220  # sound before the physical start, faded in
CROSS_FRAMES = 265  # 6 ms: from a wrong start to the right pitch
RING_S = 0.35
USUAL_SHIFT, SPARSE_SHIFT = 1.5, 3.0  # semitones a source may be shifted; sparse: other than horn
START_GAINS, START_S = (0.5, 2.2), (0.015, 0.07)
TILT_HZ, TILT_GAINS = (200.0, 3000.0), (-0.5, 1.0)
NOISE_DB = -10.0


@dataclass(frozen=True, slots=True)
class Part:
    """One note to sound; frames in the take, pitches fractional MIDI, `level` an RMS.

    It stops at `stop` (slurred on: the middle of the crossfade of `fade_out` frames) and then falls
    within about `fall` frames by 30 dB.  `slurred` with `fade_in` frames.  `first`: (pitch or None
    for noise, frames) that sound before the right pitch.  `last`: (pitch, frames) that take over
    before the next attack.  `own_release`: use the recorded release.
    """

    attack: int
    stop: int
    pitch: float
    level: float
    fall: int
    half_cosine: bool = False
    own_release: bool = False
    slurred: bool = False
    fade_in: int = 0
    fade_out: int = 0
    first: tuple[float | None, int] | None = None
    last: tuple[float, int] | None = None
    muffled_db: float = 0.0


@dataclass
class Shelf:
    """The sources of one instrument, and how to choose among them.  `varied`: no two notes from one
    source are alike (for training: there are few sources)."""

    notes: Sequence[SourceNote]
    dynamic: int
    rng: np.random.Generator
    shift: float = USUAL_SHIFT
    varied: bool = False
    _midis: Floats = field(init=False)

    def __post_init__(self) -> None:
        self._midis = np.array([n.midi for n in self.notes])

    def pitches(self) -> list[int]:
        """Whole pitches that some source reaches."""
        low, high = int(self._midis.min()), int(self._midis.max()) + 1
        reach = [m for m in range(low, high + 1) if np.min(np.abs(self._midis - m)) <= self.shift]
        return reach or [round(float(self._midis[0]))]

    def pick(self, pitch: float, frames: int) -> SourceNote:
        """A source near `pitch` that lasts `frames`, preferring the take's dynamic."""
        far = np.abs(self._midis - pitch)
        near = np.flatnonzero(far <= max(self.shift, float(far.min()) + 0.05))
        weights = np.array([self._weight(self.notes[k], float(far[k]), frames) for k in near])
        return self.notes[int(self.rng.choice(near, p=weights / weights.sum()))]

    def _weight(self, note: SourceNote, far: float, frames: int) -> float:
        lasts = (note.body_end_frame - note.onset_frame) >= 1.15 * frames
        alike = 1.0 if note.dynamic == self.dynamic else 0.12
        return (1.0 if lasts else 0.002) * alike * (1.0 if far <= 0.7 else 0.3)


def sounded(parts: Sequence[Part], shelf: Shelf, frames: int) -> Floats:
    """All parts mixed: float64 of shape (frames,)."""
    out = np.zeros(frames)
    for part in parts:
        wave, begin = _part(part, shelf)
        low, high = max(0, begin), min(frames, begin + len(wave))
        if low < high:
            out[low:high] += wave[low - begin : high - begin]
    return out


def _part(part: Part, shelf: Shelf) -> tuple[Floats, int]:
    body = part.stop - part.attack
    lead = part.fade_in // 2 if part.slurred else PRE_FRAMES
    tail = part.fade_out // 2 if part.fade_out else int(RING_S * RATE)
    wave = _tone(part, shelf, lead, body, tail)
    if part.first is not None:
        wave = _with_first(wave, part, shelf, lead, tail)
    if part.last is not None:
        wave = _with_last(wave, part, shelf, lead)
    wave *= _envelope(part, lead, body, tail)
    if shelf.varied:
        wave = _otherwise_begun(wave, part, lead, shelf.rng)
    if part.muffled_db:
        wave = _muffled(wave, part)
    return wave, part.attack - lead


def _tone(part: Part, shelf: Shelf, lead: int, body: int, tail: int) -> Floats:
    """The note at its level, from `lead` frames before its attack."""
    source = shelf.pick(part.pitch, body + (tail if part.fade_out else 0))
    ratio = 2 ** ((part.pitch - source.midi) / 12)
    samples, start = source.samples, float(source.onset_frame)
    if part.slurred:
        start = _inside(source, ratio * (body + tail), shelf.rng)
    elif part.own_release and ratio * body < source.body_end_frame - source.onset_frame - 500:
        samples = _own_release(source, round(source.onset_frame + ratio * body), ratio)
    wave = resampled(samples, start - ratio * lead, ratio, lead + body + tail)
    return wave * (part.level / _loudness(wave[lead : lead + body], source.level))


def _inside(source: SourceNote, frames: float, rng: np.random.Generator) -> float:
    """Where a slurred note may start in its source: past the attack."""
    first = source.t50_frame + 0.06 * RATE
    last = source.body_end_frame - frames
    return float(min(first + rng.uniform(0, 0.12) * RATE, max(first, last)))


def _loudness(body: Floats, level: float) -> float:
    """RMS of the loudest 30 ms, not less than 6 dB under the source's tone."""
    hop = int(0.03 * RATE)
    if len(body) <= hop:
        return max(0.5 * level, float(np.sqrt(np.mean(body**2) + 1e-12)))
    power = np.cumsum(np.concatenate([[0.0], body**2]))
    return max(0.5 * level, float(np.sqrt(np.max(power[hop:] - power[:-hop]) / hop)))


def _own_release(source: SourceNote, stop: int, ratio: float) -> NDArray[np.float32]:
    """The source up to `stop`, then its own release."""
    return spliced(source.samples, stop, source.body_end_frame, 2 * RATE)


def spliced(
    samples: NDArray[np.float32], stop: int, resume: int, keep: int, cross: int = 441
) -> NDArray[np.float32]:
    """`samples` up to `stop` and some `keep` from about `resume` on, crossfaded over `cross` frames
    where the two fit best."""
    begin = fitting(samples, stop, resume, cross)
    if begin is None:
        return samples[:stop]
    after = samples[begin + cross : begin + cross + keep]
    return np.concatenate([samples[: stop - cross], mixed(samples, stop, begin, cross), after])


def fitting(samples: NDArray[np.float32], stop: int, resume: int, cross: int) -> int | None:
    """The frame, at most 20 ms + `cross` before `resume`, from which `cross` frames fit best to the
    `cross` frames before `stop`, so that a steady tone runs on without a beat."""
    old = samples[max(0, stop - cross) : stop].astype(np.float64)
    first = max(stop, resume - cross - 882)
    area = samples[first:resume].astype(np.float64)
    if len(old) < cross or len(area) < cross:
        return None
    fit = np.correlate(area, old, mode="valid")
    norm = np.sqrt(np.convolve(area**2, np.ones(cross), mode="valid")) + 1e-9
    return first + int(np.argmax(fit / norm))


def mixed(samples: NDArray[np.float32], stop: int, begin: int, cross: int) -> NDArray[np.float32]:
    """The crossfade from the `cross` frames before `stop` to those from `begin` on."""
    ramp = ((np.arange(cross) + 0.5) / cross).astype(np.float32)
    return samples[stop - cross : stop] * (1 - ramp) + samples[begin : begin + cross] * ramp


def resampled(samples: NDArray[np.float32], start: float, ratio: float, count: int) -> Floats:
    """`count` values at `start`, `start + ratio`, ... by cubic convolution (Catmull and Rom's
    spline); silence outside."""
    at = start + ratio * np.arange(count)
    low = np.floor(at).astype(np.int64)
    x = at - low
    padded = np.concatenate([np.zeros(2), samples, np.zeros(3)])
    index = np.clip(low + 2, 1, len(padded) - 3)
    a, b, c, d = (padded[index + k] for k in (-1, 0, 1, 2))
    made = b + 0.5 * x * (c - a + x * (2 * a - 5 * b + 4 * c - d + x * (3 * (b - c) + d - a)))
    return np.where((low < -1) | (low > len(samples)), 0.0, made)


def _envelope(part: Part, lead: int, body: int, tail: int) -> Floats:
    made = np.ones(lead + body + tail)
    if part.slurred and part.fade_in:
        made[: part.fade_in] *= np.sin(np.arange(part.fade_in) * (np.pi / 2 / part.fade_in))
    else:
        made[:lead] *= np.linspace(0, 1, lead)
    if part.fade_out:
        ramp = np.cos(np.arange(part.fade_out) * (np.pi / 2 / part.fade_out))
        return _scaled_end(made, ramp)
    if part.own_release:
        return _scaled_end(made, np.linspace(1, 0, tail // 4))
    after = np.arange(tail) / max(1, part.fall)
    if part.half_cosine:
        shape = np.where(after < 1, 0.5 + 0.5 * np.cos(np.pi * np.minimum(after, 1)), 0.0)
    else:
        shape = 10 ** (-1.5 * after)
    made[lead + body :] *= shape * np.linspace(1, 0, tail)
    return made


def _scaled_end(made: Floats, ramp: Floats) -> Floats:
    count = min(len(ramp), len(made))
    made[len(made) - count :] *= ramp[len(ramp) - count :]
    return made


def _with_first(wave: Floats, part: Part, shelf: Shelf, lead: int, tail: int) -> Floats:
    """Something else before the right pitch: another pitch, or noise without any."""
    assert part.first is not None
    pitch, frames = part.first
    count = lead + frames + CROSS_FRAMES
    if pitch is None:
        other = _noise(count, part.level * 10 ** (NOISE_DB / 20), lead, shelf.rng)
    else:
        source = shelf.pick(pitch, frames)
        ratio = 2 ** ((pitch - source.midi) / 12)
        other = resampled(source.samples, source.onset_frame - ratio * lead, ratio, count)
        other *= part.level / _loudness(other[lead:], source.level)
    return _crossed(other, wave, lead + frames)


def _with_last(wave: Floats, part: Part, shelf: Shelf, lead: int) -> Floats:
    """The next note's pitch takes over before this note has died away."""
    assert part.last is not None
    pitch, at = part.last
    source = shelf.pick(pitch, len(wave) - at)
    ratio = 2 ** ((pitch - source.midi) / 12)
    count = len(wave)
    start = _inside(source, ratio * (count - lead - at), shelf.rng) - ratio * (lead + at)
    other = resampled(source.samples, start, ratio, count) * (part.level / source.level)
    return _crossed(wave, other, lead + at)


def _crossed(old: Floats, new: Floats, at: int) -> Floats:
    """`old` until `at`, then `new`, with equal power over 6 ms around it."""
    angle = np.clip((np.arange(len(new)) - at) / CROSS_FRAMES + 0.5, 0, 1) * (np.pi / 2)
    made = new * np.sin(angle)
    count = min(len(old), len(new))
    made[:count] += old[:count] * np.cos(angle[:count])
    return made


def _noise(count: int, level: float, lead: int, rng: np.random.Generator) -> Floats:
    """Air without a pitch, swelling within 8 ms."""
    sos = butter(2, (180.0, 2500.0), "bandpass", fs=RATE, output="sos")
    made = sosfilt(sos, rng.standard_normal(count))
    made *= level / np.sqrt(np.mean(made**2))
    since = np.arange(count) - lead
    return np.asarray(made * np.clip(since / (0.008 * RATE), 0, 1))


def _otherwise_begun(wave: Floats, part: Part, lead: int, rng: np.random.Generator) -> Floats:
    """Another tilt of the spectrum; a tongued start louder or softer than the tone that follows."""
    edge_hz = float(np.exp(rng.uniform(*np.log(TILT_HZ))))
    high = sosfilt(butter(1, edge_hz, "highpass", fs=RATE, output="sos"), wave)
    made = np.asarray(wave + rng.uniform(*TILT_GAINS) * high)
    if part.slurred:
        return made
    gain = float(np.exp(rng.uniform(*np.log(START_GAINS))))
    lasts = rng.uniform(*START_S) * RATE
    since = np.maximum(np.arange(len(wave)) - lead, 0)
    return np.asarray(made * (1 + (gain - 1) * np.exp(-since / lasts)))


def _muffled(wave: Floats, part: Part) -> Floats:
    f0 = 440 * 2 ** ((part.pitch - 69) / 12)
    sos = butter(1, min(0.4 * RATE, 1.6 * f0), fs=RATE, output="sos")
    soft = sosfilt(sos, wave)
    loud = np.sqrt(np.mean(wave**2) / max(1e-12, np.mean(soft**2)))
    return np.asarray(soft * loud * 10 ** (-part.muffled_db / 20))
