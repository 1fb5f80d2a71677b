"""What brass sounds like, in figures: spectrum, attack, release and change of pitch.

Every constant with "fitted" beside it was fitted to recorded single notes and phrases of one horn
player (Philharmonia Orchestra sound samples, CC BY-SA 3.0; the audio is not part of this project).
Times are in seconds here; frames begin in `tone`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.pitch import hz_of_midi
from coach.ports.player.skill import usual_level_db

MOST_HARMONICS = 40
HIGHEST_HZ = 9000.0
FAINTEST_DB = -85.0
DB_PER_LOUDNESS = 5.0  # fitted: from mezzo-forte to fortissimo at one register

# Fitted to 218 notes: median error over harmonics 1 to 8 is 2 to 6 dB by register and dynamic (but
# too dark by 20 dB for soft notes above MIDI 74, of which there was one).
BELL_HZ, BELL_ORDER, BELL_LOUDER = 301.0, 1.88, 0.485
CUT_HZ, CUT_RISES, CUT_LOUDER = 468.0, 0.098, -0.183
CUT_ORDER, CUT_ORDER_LOUDER = 3.78, 1.33
# The blare of a fortissimo, a second and flatter slope; 40 dB less for each step of loudness below.
BLARE_DB, BLARE_HZ, BLARE_DB_PER_OCTAVE, BLARE_DB_PER_LOUDNESS = -29.0, 1400.0, 9.0, 40.0

# By register (MIDI): start to half amplitude for long and for short notes (ms), such that rendered
# notes, measured as the recorded ones were, give their medians; and until the pitch holds within
# 20 cents (ms).
REGISTERS = (40.0, 49.0, 56.0, 63.0, 72.0)
HALF_LONG_MS = (47.0, 32.0, 27.0, 22.5, 13.3)
HALF_SHORT_MS = (34.0, 24.0, 22.0, 13.0, 9.5)
HALF_SPREAD = 0.3
SETTLE_MS = (120.0, 92.0, 65.0, 48.0, 26.0)
LONG_NOTE_S, SHORT_NOTE_S = 0.45, 0.2
STOPPED_WITHIN_S = 0.12  # a note that follows so soon was tongued over the old one
RELEASE_SHAPE = 1.3
# Weibull shape of the rise: the ratio of the 90 % to the 50 % time is 2.6 low and 5 high.
RISE_SHAPE = (1.25, 1.1, 1.1, 0.95, 0.75)


@dataclass(frozen=True, slots=True)
class Onset:
    """A rise 1 - exp(-(t / scale_s) ** shape); the pitch comes from `scoop_cents`, dying away with
    `scoop_s`."""

    scale_s: float
    shape: float
    scoop_cents: float
    scoop_s: float


def loudness(pitch: float, level_db: float) -> float:
    """Dynamic by RMS level: -1 piano, 0 mezzo-forte, 1 fortissimo; kept within -2 to 1.5."""
    return min(1.5, max(-2.0, (level_db - usual_level_db(pitch)) / DB_PER_LOUDNESS))


def harmonics_db(pitch: float, loud: float) -> NDArray[np.float64]:
    """Levels of harmonics 1, 2, ... in dB, power summing to 0 dB.

    The bell lets through what lies above `BELL_HZ`; the lips make less and less above `CUT_HZ`, the
    louder the slower.  Two slopes, a shape in use since Luce and Clark 1967 (from memory)."""
    hz = hz_of_midi(pitch) * np.arange(1, MOST_HARMONICS + 1)
    hz = hz[(hz < HIGHEST_HZ) | (np.arange(len(hz)) < 2)]
    cut = CUT_HZ * 2 ** (CUT_RISES * np.log2(hz[0] / 175.0) + CUT_LOUDER * loud)
    order = CUT_ORDER - CUT_ORDER_LOUDER * loud
    bell = BELL_HZ * 2 ** (BELL_LOUDER * loud)
    levels = -10 * np.log10(1 + (bell / hz) ** (2 * BELL_ORDER))
    levels -= 10 * np.log10(1 + (hz / cut) ** (2 * order))
    blare = BLARE_DB - BLARE_DB_PER_OCTAVE * np.log2(hz / BLARE_HZ)
    blare -= BLARE_DB_PER_LOUDNESS * max(0.0, 1 - loud)
    levels -= 10 * np.log10(np.sum(10 ** (levels / 10)))
    levels = 10 * np.log10(10 ** (levels / 10) + (hz > BLARE_HZ / 2) * 10 ** (blare / 10))
    levels -= 10 * np.log10(np.sum(10 ** (levels / 10)))
    return np.asarray(levels, dtype=np.float64)


def partials(pitch: float, level_db: float, rate: int) -> NDArray[np.complex64]:
    """Complex amplitudes of the harmonics of a note of RMS `level_db` (dB full scale) below
    Nyquist; fixed phases, spread as n squared to keep the peaks low (Schroeder 1970, from memory).
    """
    levels = harmonics_db(pitch, loudness(pitch, level_db))
    count = max(1, min(len(levels), int(0.45 * rate / hz_of_midi(pitch))))
    heard = np.nonzero(levels[:count] > FAINTEST_DB)[0]
    levels = levels[: heard[-1] + 1]
    order = np.arange(1, len(levels) + 1)
    phase = -np.pi * order * (order - 1) / (2 * max(4, len(levels)))
    amplitude = np.sqrt(2) * 10 ** ((levels + level_db) / 20)
    return np.asarray(amplitude * np.exp(1j * phase), dtype=np.complex64)


def growth(pitch: float) -> float:
    """How much faster each harmonic grows than the one below while the note swells or dies away:
    amplitude n goes as E ** (1 + growth * (n - 1)).  Worman 1971 found p_n ~ p_1 ** n for soft
    reed tones (from memory); brass in the room show less, and by frequency rather than number."""
    return 0.3 * min(1.0, hz_of_midi(pitch) / 440.0)


def onset(pitch: float, length_s: float, rng: np.random.Generator) -> Onset:
    """How this note speaks: register and length give the median, the player scatters around it."""
    short = np.interp(length_s, (SHORT_NOTE_S, LONG_NOTE_S), (1.0, 0.0))
    long_ms = np.interp(pitch, REGISTERS, HALF_LONG_MS)
    short_ms = np.interp(pitch, REGISTERS, HALF_SHORT_MS)
    half_s = float(long_ms + (short_ms - long_ms) * short) / 1000
    half_s = min(half_s, 0.45 * length_s) * float(np.exp(rng.normal(0.0, HALF_SPREAD)))
    shape = float(np.interp(pitch, REGISTERS, RISE_SHAPE))
    scale_s = half_s / np.log(2) ** (1 / shape)
    settle_s = float(np.interp(pitch, REGISTERS, SETTLE_MS)) / 1000
    return Onset(float(scale_s), shape, float(rng.normal(-30.0, 20.0)), 0.6 * settle_s)


def puff_db(pitch: float) -> float:
    """RMS of the puff at a tongued start against the note's: such that the start stands out by
    -30 dB of the attack's peak within 2 ms or so in every register, as recorded ones do."""
    return float(np.interp(pitch, (40.0, 60.0), (-24.0, -36.0)))


def release_s(pitch: float, gap_s: float | None) -> float:
    """Time in which the note falls by 40 dB: let go (`gap_s` None), or stopped by the tongue
    `gap_s` before the next.  Fitted: phrases fall from -3 to -20 dB in 35 ms, single notes from
    -6 to -16 dB in 60 ms (low) to 35 ms (high)."""
    if gap_s is None:
        return float(np.interp(pitch, (40.0, 72.0), (0.21, 0.13)))
    return min(0.08, max(0.045, 1.6 * gap_s))


def slur_s(semitones: float, span_s: float) -> float:
    """Length of the change of pitch: steps glide for about 30 ms, leaps snap over in 10 inside a
    dip (recorded slurs show energy between the two pitches for steps only)."""
    glide = 0.030 if abs(semitones) <= 2.5 else 0.012
    return min(glide, 0.25 * span_s)


def slur_dip_db(semitones: float, span_s: float, rng: np.random.Generator) -> float:
    """How far the level dips in a slur: recorded ones 6 to 14 dB in slow playing; less when fast
    (an assumption)."""
    depth = min(12.0, rng.uniform(4.0, 8.0) + 0.6 * abs(semitones))
    return float(depth * min(1.0, max(0.3, span_s / 0.3)))
