"""What sounds and what begins in a recording, pitch by pitch."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from coach.hear.whole import whole

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Samples = NDArray[np.float32]

BANK_RATE = 22_050
WINDOW, ONSET_WINDOW = 4096, 2048
LOWEST, HIGHEST = 36, 108
PITCHES = HIGHEST - LOWEST + 1
# Below this the short window can't tell neighbouring notes apart.
ONSET_LOWEST = 48
# Loud and soft alike: log(1 + COMPRESSION * power relative to the loudest).
COMPRESSION = 1000.0
# A change of level is looked for over so long; an onset is felt for so long, as in the paper.
RISE_S, DECAY_S = 0.02, 0.2
# Onsets are measured by the strongest within this time, or a share of the strongest of all.
AROUND_S, AROUND_SHARE = 0.5, 0.05
# Silence: near the softest there is, and far under the loudest.
NEAR_DB, UNDER_DB = 6.0, 30.0
# Nothing at all, of the power of a window.
NOTHING_DB = -100.0


@dataclass(frozen=True, slots=True)
class Features:
    """Row n is `n * hop_s` from the start.  `sounding` (n, PITCHES + 1): unit vectors, the last
    place silence; `onsets` (n, PITCHES): what begins, dying away."""

    hop_s: float
    sounding: Floats
    onsets: Floats

    def __len__(self) -> int:
        return len(self.sounding)

    def part(self, start: int, end: int) -> Features:
        """Rows `start` to `end`."""
        return Features(self.hop_s, self.sounding[start:end], self.onsets[start:end])


def features(samples: Samples, rate: int, hop_s: float) -> Features:
    """Features of a sound (float32 (n,)), a row every `hop_s`."""
    sound = _at_bank_rate(whole(0, samples, rate)[0], rate)
    count = int(len(sound) / BANK_RATE / hop_s) + 1
    places = np.minimum(np.rint(np.arange(count) * hop_s * BANK_RATE).astype(int), len(sound))
    power = _power(sound, places, WINDOW, LOWEST)
    level = np.log1p(COMPRESSION * power / max(float(power.max()), 1e-12))
    onsets = np.zeros((count, PITCHES))
    onsets[:, ONSET_LOWEST - LOWEST :] = _rises(sound, places, hop_s)
    return Features(hop_s, directions(level, _silent(power)), dying_away(onsets, hop_s))


def directions(level: Floats, silent: Flags) -> Floats:
    """Rows (n, p) at length 1, with one place more for silence."""
    made = np.zeros((len(level), level.shape[1] + 1))
    made[:, :-1] = level / np.maximum(np.linalg.norm(level, axis=1, keepdims=True), 1e-9)
    made[silent] = 0
    made[silent, -1] = 1
    return made


def dying_away(onsets: Floats, hop_s: float) -> Floats:
    """Onsets (n, p) relative to the strongest around, dying away over DECAY_S."""
    from scipy.ndimage import maximum_filter1d

    norm = np.linalg.norm(onsets, axis=1)
    around = maximum_filter1d(norm, 2 * round(AROUND_S / hop_s) + 1, mode="constant")
    least = AROUND_SHARE * float(norm.max(initial=0)) + 1e-9
    scaled = onsets / np.maximum(around, least)[:, None]
    length = max(1, round(DECAY_S / hop_s))
    out = scaled.copy()
    for k in range(1, length):
        np.maximum(out[k:], scaled[:-k] * np.sqrt(1 - k / length), out=out[k:])
    made: Floats = out
    return made


def _at_bank_rate(samples: Samples, rate: int) -> Samples:
    from scipy.signal import resample_poly

    common = gcd(rate, BANK_RATE)
    made: Samples = resample_poly(samples, BANK_RATE // common, rate // common).astype(np.float32)
    return made


def _rises(sound: Samples, places: NDArray[np.int64], hop_s: float) -> Floats:
    power = _power(sound, places, ONSET_WINDOW, ONSET_LOWEST)
    level = np.log1p(COMPRESSION * power / max(float(power.max()), 1e-12))
    lag = max(1, round(RISE_S / hop_s))
    rises = np.maximum(level - np.pad(level, ((lag, 0), (0, 0)))[:-lag], 0)
    # What changes over `lag` rows lies in the middle of them.
    back: Floats = np.pad(rises, ((0, lag // 2), (0, 0)))[lag // 2 :]
    return back


def _silent(power: Floats) -> Flags:
    level = 10 * np.log10(power.sum(axis=1) + 1e-12)
    softest, loudest = np.quantile(level, 0.02), np.quantile(level, 0.9)
    found: Flags = level < max(min(softest + NEAR_DB, loudest - UNDER_DB), NOTHING_DB)
    return found


def _power(sound: Samples, places: NDArray[np.int64], window: int, lowest: int) -> Floats:
    """Power of each pitch from `lowest` on around each place, (places, pitches)."""
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    weights = _weights(window, lowest)
    out = np.zeros((len(places), HIGHEST - lowest + 1))
    padded = np.pad(sound, (window // 2, window))
    views = np.lib.stride_tricks.sliding_window_view(padded, window)
    for first in range(0, len(places), 256):
        spectrum = np.fft.rfft(views[places[first : first + 256]] * shape, axis=1)
        out[first : first + 256] = (spectrum.real**2 + spectrum.imag**2) @ weights
    return out


def _weights(window: int, lowest: int) -> Floats:
    """(bins, pitches): a bin belongs to the pitches within a semitone or a bin of it, the nearest
    most."""
    hz = np.arange(1, window // 2 + 1) * BANK_RATE / window
    wide = np.maximum(0.5, 12 / np.log(2) * BANK_RATE / window / hz)
    pitch = 69 + 12 * np.log2(hz / 440)
    off = (pitch[:, None] - np.arange(lowest, HIGHEST + 1)[None, :]) / wide[:, None]
    found: Floats = np.pad(np.maximum(0, 1 - np.abs(off)), ((1, 0), (0, 0)))
    return found
