"""Notes to sound: additive brass, phase-continuous through slurs, each start exact to the sample.

A *voice* is a tongued note and the notes slurred to it: one running phase, one envelope.  Its
harmonics are the powers of one complex oscillator, summed by Horner's rule, so forty of them cost
forty multiplications a sample.  The oscillator's radius follows the envelope, which makes a note
brighten as it swells and darken as it dies.  The result of `render` does not depend on how the time
is cut into windows.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.pitch import hz_of_midi
from coach.ports.player import air, timbre
from coach.ports.player.skill import PlayedNote

Floats = NDArray[np.float64]

WANDER_CENTS, WANDER_DB = 2.0, 0.35
CRACK_S, VALVE_S = 0.006, 0.008
DIP_S, SWELL_S, SWELL_SHARE = 0.02, 0.08, 0.3
DIP_LONGEST_SHARE = 0.12
JOIN_S = 0.02
QUIET_DB = -60.0
SPLIT_DIP_DB = 4.0


@dataclass(frozen=True, slots=True)
class ToneTurn:
    """From `frame` (the middle of a glide of `glide_frames`) the voice sounds `pitch`, at
    `level_db`; the level dips by `dip_db` there, for about `dip_frames` to either side."""

    frame: int
    pitch: float
    level_db: float
    glide_frames: int
    dip_db: float = 0.0
    dip_frames: float = 1.0


@dataclass(frozen=True, slots=True)
class Breath:
    """Notes on one breath; `before` is the note heard before them, `after` the next one."""

    notes: tuple[PlayedNote, ...]
    before: PlayedNote | None
    after: PlayedNote | None


def render(
    played: Sequence[PlayedNote], rate: int, start_frame: int, end_frame: int, *, seed: int = 0
) -> NDArray[np.float32]:
    """The sound of `played` from `start_frame` up to `end_frame`: float32 of shape (n,), full scale
    1.  Notes in order of time.  Silence outside the notes; the same seed gives the same samples.
    """
    out = np.zeros(max(0, end_frame - start_frame), dtype=np.float32)
    for voice in voices(played, rate):
        first = voice.notes[0].frame
        if first >= end_frame or _last_frame(voice, rate) <= start_frame:
            continue
        sound = _sound(voice, rate, np.random.default_rng((seed, abs(first), len(voice.notes))))
        low, high = max(first, start_frame), min(first + len(sound), end_frame)
        if low < high:
            out[low - start_frame : high - start_frame] += sound[low - first : high - first]
    return out


def voices(played: Sequence[PlayedNote], rate: int) -> list[Breath]:
    """Cut the notes where the tongue strikes, or where a slur has nothing to join."""
    groups: list[list[PlayedNote]] = []
    for note in played:
        joins = groups and note.slurred and note.frame - groups[-1][-1].end_frame <= JOIN_S * rate
        if joins:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [
        Breath(
            tuple(group),
            groups[k - 1][-1] if k else None,
            groups[k + 1][0] if k + 1 < len(groups) else None,
        )
        for k, group in enumerate(groups)
    ]


def _release(voice: Breath, rate: int) -> tuple[int, float]:
    """(frame at which the voice begins to die away, frames in which it falls by 40 dB)."""
    last = voice.notes[-1]
    end, gap_s = last.end_frame, None
    if voice.after is not None:
        end = max(last.frame + 1, min(end, voice.after.frame))
        gap_s = (voice.after.frame - end) / rate
    stopped = gap_s is not None and gap_s < timbre.STOPPED_WITHIN_S
    fall = timbre.release_s(last.pitch, gap_s if stopped else None)
    return end, fall * rate


def _last_frame(voice: Breath, rate: int) -> int:
    end, fall = _release(voice, rate)
    return end + int(fall * (-QUIET_DB / 40.0) ** (1 / timbre.RELEASE_SHAPE)) + 1


def _sound(voice: Breath, rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """The whole voice, from its first frame."""
    first = voice.notes[0]
    frames = np.arange(_last_frame(voice, rate) - first.frame, dtype=np.float64)
    begin = timbre.onset(first.pitch, first.length_frames / rate, rng)
    turns = _turns(voice, rate, rng)
    rise_db = _rise_db(frames / rate, begin)
    level_db = rise_db + _fall_db(voice, frames, rate) + _dips_db(turns, first.frame, frames)
    level_db += air.wander(len(frames), rate, WANDER_DB, rng)
    cents = begin.scoop_cents * np.exp(-frames / (begin.scoop_s * rate))
    cents += air.wander(len(frames), rate, WANDER_CENTS, rng)
    edges = _edges(turns, first.frame)
    phase = _phase(edges, turns, frames, cents, rate)
    tone = _harmonics(turns, edges, level_db, phase, rate)
    breath = air.breath(first, frames, level_db, rate, rng)
    return (tone + breath).astype(np.float32)


def _turns(voice: Breath, rate: int, rng: np.random.Generator) -> list[ToneTurn]:
    """Every change of pitch in the voice, in order; the first one is its start."""
    first = voice.notes[0]
    late = first.lag_frames if voice.before is not None else 0
    start = first.pitch if first.split_to is None else first.split_to
    turns = [ToneTurn(first.frame, start, first.level_db, 0)]
    if late > 0 and voice.before is not None:
        turns = [
            ToneTurn(first.frame, voice.before.pitch, first.level_db, 0),
            ToneTurn(first.frame + late, start, first.level_db, round(VALVE_S * rate)),
        ]
    turns += _crack(first, rate)
    for before, note in itertools.pairwise(voice.notes):
        turns += [_slur(before, note, rate, rng), *_crack(note, rate)]
    if voice.after is not None and voice.after.lag_frames < 0:
        early = voice.after.frame + voice.after.lag_frames
        level = voice.notes[-1].level_db
        turns.append(ToneTurn(early, voice.after.pitch, level, round(VALVE_S * rate)))
    return sorted(turns, key=lambda turn: turn.frame)


def _slur(before: PlayedNote, note: PlayedNote, rate: int, rng: np.random.Generator) -> ToneTurn:
    span_s = min(before.length_frames, note.length_frames) / rate
    goal = note.pitch if note.split_to is None else note.split_to
    step = goal - before.pitch
    glide = max(2, round(timbre.slur_s(step, span_s) * rate))
    dip_db = timbre.slur_dip_db(step, span_s, rng)
    dip_frames = min(DIP_S, DIP_LONGEST_SHARE * span_s) * rate
    return ToneTurn(note.frame, goal, note.level_db, glide, dip_db, dip_frames)


def _crack(note: PlayedNote, rate: int) -> list[ToneTurn]:
    if note.split_to is None:
        return []
    at = note.frame + note.split_frames
    return [
        ToneTurn(at, note.pitch, note.level_db, round(CRACK_S * rate), SPLIT_DIP_DB, CRACK_S * rate)
    ]


def _edges(turns: Sequence[ToneTurn], origin: int) -> list[tuple[int, int]]:
    """Begin and end of each glide, relative to `origin`; they don't overlap."""
    edges = [(0, 0)]
    for turn in turns[1:]:
        low = max(edges[-1][1], turn.frame - turn.glide_frames // 2 - origin)
        edges.append((low, max(low + 1, turn.frame + turn.glide_frames // 2 - origin)))
    return edges


def _phase(
    edges: Sequence[tuple[int, int]],
    turns: Sequence[ToneTurn],
    frames: Floats,
    cents: Floats,
    rate: int,
) -> Floats:
    """Running phase of the fundamental in turns (1 = a period), starting at 0."""
    places = [float(edge) for pair in edges[1:] for edge in pair]
    values = [turns[0].pitch]
    for a, b in itertools.pairwise(turns):
        values += [a.pitch, b.pitch]
    pitch = np.interp(frames, [0.0, *places], values) + cents / 100
    return np.cumsum(np.exp2((pitch - 69) / 12)) * (hz_of_midi(69) / rate)


def _harmonics(
    turns: Sequence[ToneTurn],
    edges: Sequence[tuple[int, int]],
    level_db: Floats,
    phase: Floats,
    rate: int,
) -> NDArray[np.float32]:
    """The sum of all harmonics; at each turn the spectrum of one note fades into the next one's."""
    count = len(phase)
    angle = ((phase % 1.0) * (2 * np.pi)).astype(np.float32)
    spin = np.cos(angle) + 1j * np.sin(angle)
    log_level = (level_db * (np.log(10) / 20)).astype(np.float32)
    out = np.zeros(count, dtype=np.float32)
    for k, turn in enumerate(turns):
        fade_in = edges[k]
        fade_out = edges[k + 1] if k + 1 < len(turns) else (count, count)
        low, high = fade_in[0], min(count, fade_out[1])
        if low >= high:
            continue
        grow = timbre.growth(turn.pitch)
        weight = _weight(low, high, fade_in, fade_out)
        weight *= np.exp((1 - grow) * log_level[low:high])
        swell = spin[low:high] * np.exp(grow * log_level[low:high])
        out[low:high] += weight * _powers(swell, timbre.partials(turn.pitch, turn.level_db, rate))
    return out


def _weight(
    low: int, high: int, fade_in: tuple[int, int], fade_out: tuple[int, int]
) -> NDArray[np.float32]:
    """1, with quarter-sine ramps over the two fades: equal power, as the two spectra differ."""
    weight = np.ones(high - low, dtype=np.float32)
    rising, falling = fade_in[1] - fade_in[0], fade_out[1] - fade_out[0]
    if rising > 0:
        ramp = np.sin(np.arange(rising, dtype=np.float32)[: high - low] * (np.pi / 2 / rising))
        weight[: len(ramp)] *= ramp
    if falling > 0:
        ramp = np.cos(np.arange(falling, dtype=np.float32) * (np.pi / 2 / falling))
        begin = min(len(weight), fade_out[0] - low)
        weight[begin:] *= ramp[: len(weight) - begin]
    return weight


def _powers(swell: NDArray[np.complex64], amplitudes: NDArray[np.complex64]) -> NDArray[np.float32]:
    """Imaginary part of the sum over n of amplitudes[n - 1] * swell ** n, by Horner's rule."""
    total = np.full(len(swell), amplitudes[-1], dtype=np.complex64)
    for amplitude in amplitudes[-2::-1]:
        total *= swell
        total += amplitude
    total *= swell
    return total.imag


def _rise_db(seconds: Floats, begin: timbre.Onset) -> Floats:
    """Level while the note speaks, 0 dB when it has."""
    rise = -np.expm1(-((seconds / begin.scale_s) ** begin.shape))
    return 20 * np.log10(np.maximum(rise, 1e-6))


def _fall_db(voice: Breath, frames: Floats, rate: int) -> Floats:
    """Level while the voice dies away: -40 (t / T) ** 1.3 dB from its end on, cut at -60 dB."""
    end, fall = _release(voice, rate)
    since = np.maximum(0.0, frames - (end - voice.notes[0].frame)) / fall
    return np.asarray(-40.0 * since**timbre.RELEASE_SHAPE, dtype=np.float64)


def _dips_db(turns: Sequence[ToneTurn], origin: int, frames: Floats) -> Floats:
    """Dips of the level around the turns: down and up again like a bell curve, then the last third
    of the way back as a slow swell."""
    dips = np.zeros(len(frames))
    for turn in turns:
        if turn.dip_db <= 0:
            continue
        reach = SWELL_S / DIP_S * turn.dip_frames
        low = max(0, int(turn.frame - origin - 3 * turn.dip_frames))
        near = slice(low, max(low, int(turn.frame - origin + 5 * reach)))
        since = frames[near] + (origin - turn.frame)
        bell = np.exp(-((since / turn.dip_frames) ** 2))
        swell = np.where(since > 0, np.exp(-since / reach), bell)
        dips[near] -= turn.dip_db * ((1 - SWELL_SHARE) * bell + SWELL_SHARE * swell)
    return dips
