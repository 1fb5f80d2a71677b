"""The round trip through loudspeaker, air, microphone and drivers, from probes that came back.

A short rising sweep is sent several times.  Correlating the recording with it (a matched filter)
gives a peak where each came back; a parabola through the peak places it between samples (Jacovitti
and Scarano, "Discrete time techniques for time delay estimation", 1993, from memory).
The envelope of the correlation is taken, so a loudspeaker that turns the phase does no harm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.errors import CoachError
from coach.hear.peak import summit
from coach.hear.whole import whole

Samples = NDArray[np.float32]

LOW_HZ, HIGH_HZ = 600.0, 6000.0
PROBE_S = 0.08
LONGEST_S = 0.45
CLEAR_DB = 12.0
SPREAD_MS = 1.0
NEEDED = 3


@dataclass(frozen=True, slots=True)
class RoundTrip:
    """The delay in frames (a fraction), the largest distance of a probe from it, and the level at
    which the probe came back (dB against what was sent)."""

    frames: float
    spread_frames: float
    level_db: float


def make_probe(rate: int, level_db: float = -18.0) -> Samples:
    """A sweep from 600 to 6000 Hz in 80 ms with soft ends: float32 (n,), moderate by default."""
    t = np.arange(round(PROBE_S * rate)) / rate
    ratio = np.log(HIGH_HZ / LOW_HZ)
    phase = 2 * np.pi * LOW_HZ * PROBE_S / ratio * (np.exp(t / PROBE_S * ratio) - 1)
    fade = np.minimum(1.0, np.minimum(t, PROBE_S - t) / (0.1 * PROBE_S))
    shape = np.sin(np.pi / 2 * fade) ** 2
    made: Samples = (10 ** (level_db / 20) * shape * np.sin(phase)).astype(np.float32)
    return made


def find_round_trip(
    recorded: Samples, probe: Samples, sent_frames: Sequence[int], rate: int
) -> RoundTrip:
    """The delay of a probe sent at `sent_frames` of `recorded`, float32 (n,), within 0.45 s.

    Raises CoachError, with the reason, when nothing came back, noise hides it or the probes differ
    by more than 1 ms.
    """
    if len(sent_frames) < NEEDED:
        raise ValueError(f"{NEEDED} probes or more are needed")
    recorded, _ = whole(0, recorded, rate)
    if not np.any(recorded):
        raise CoachError("the input is silent", "round trip", "choose another input, or turn it up")
    found = [_one(recorded, probe, sent, rate) for sent in sent_frames]
    clear = [f for f in found if f[1] >= CLEAR_DB]
    if len(clear) < NEEDED or len(clear) < len(found) / 2:
        raise _unheard(found)
    delays = np.array([delay for delay, _, _ in clear])
    frames = float(np.median(delays))
    spread = float(np.max(np.abs(delays - frames)))
    if spread > SPREAD_MS * rate / 1000:
        raise CoachError(
            f"the probes came back {2000 * spread / rate:.1f} ms apart",
            "round trip",
            "use one device for both directions and close other programs, then measure again",
        )
    level_db = float(np.median([level for _, _, level in clear]))
    return RoundTrip(frames, spread, level_db)


def _unheard(found: list[tuple[float, float, float]]) -> CoachError:
    heard = sum(clear >= CLEAR_DB for _, clear, _ in found)
    what = f"only {heard} of {len(found)} test sounds were heard above the noise"
    if heard == 0:
        what = "none of the test sounds came back above the noise"
    hint = "bring the microphone near the loudspeaker, or turn the loudspeaker up a little"
    return CoachError(what, "round trip", hint)


def _one(recorded: Samples, probe: Samples, sent: int, rate: int) -> tuple[float, float, float]:
    """(delay in frames, dB above the noise, dB against what was sent) of one probe."""
    window = recorded[sent : sent + len(probe) + round(LONGEST_S * rate)].astype(float)
    if len(window) <= len(probe) + 2:
        raise ValueError("the recording ends before the last probe can have come back")
    envelope = _matched(window, probe.astype(float))
    top = int(np.argmax(envelope))
    noise = float(np.median(envelope))
    shift, peak = summit(envelope, top)
    clear_db = 20 * np.log10(peak / noise) if noise > 0 else (99.0 if peak > 0 else 0.0)
    level_db = 20 * np.log10(max(peak, 1e-9) / float(probe.astype(float) @ probe))
    return top + shift, float(clear_db), float(level_db)


def _matched(window: NDArray[np.float64], probe: NDArray[np.float64]) -> NDArray[np.float64]:
    """Envelope of the correlation at delays 0 .. len(window) - len(probe)."""
    size = 1 << int(np.ceil(np.log2(len(window) + len(probe))))
    spectrum = np.fft.fft(window, size) * np.conj(np.fft.fft(probe, size))
    spectrum[size // 2 :] = 0  # the analytic signal: positive frequencies alone, twice
    correlation = 2 * np.fft.ifft(spectrum)
    envelope: NDArray[np.float64] = np.abs(correlation[: len(window) - len(probe) + 1])
    return envelope
