"""What other libraries hear in a take: onsets, a pitch track, and the two joined into attacks.

They know no score.  They get it afterwards: their attacks go to the coach's own judge with the
expected notes, as those of any ear that knows no score do.  The pitch of an attack is the median of
the track from `SETTLED_S` after it to the next one.  Their settings are those that did best, in F
within 25 ms, on takes of the training split, spliced and recorded ones counted alike: for aubio
among some 190 of all its methods, for librosa among 25; what they come with does worse.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Attack, Evidence
from tests.bed.predictors import heard_of
from tests.bed.score import Heard
from tests.bed.take import Take

Floats = NDArray[np.float64]
Samples = NDArray[np.float32]

SETTLED_S, LONGEST_S = 0.03, 0.4
LOWEST_HZ, HIGHEST_HZ = 50.0, 1100.0
PITCH_WINDOW, AUBIO_PITCH_HOP, LIBROSA_PITCH_HOP = 2048, 256, 512
# Both hear onsets at half the rate.
DOWN, ONSET_WINDOW = 2, 1024
AUBIO_HOP, AUBIO_THRESHOLD, AUBIO_SILENCE_DB, AUBIO_APART_S = 128, 0.6, -45.0, 0.04
LIBROSA_HOP, LIBROSA_DELTA = 64, 0.12
# aubio tells an onset at the very first frame of anything.
BEGINNING_S = 0.02


@dataclass(frozen=True, slots=True)
class Track:
    """A pitch track: seconds (n,), fractional MIDI numbers (n,), nan where there is none."""

    seconds: Floats
    pitches: Floats

    def between(self, start_s: float, end_s: float) -> float | None:
        """The median pitch of a stretch."""
        inside = self.pitches[(self.seconds >= start_s) & (self.seconds < end_s)]
        known = inside[np.isfinite(inside)]
        return float(np.median(known)) if len(known) else None


def by_aubio(take: Take) -> Heard:
    """Spectral flux and yinfast."""
    return _judged(take, aubio_onsets(take).attacks, _aubio_pitches(take.samples, take.rate))


def by_librosa_pyin(take: Take) -> Heard:
    return _judged(take, librosa_onsets(take).attacks, _librosa_pitches(take, probable=True))


def by_librosa_yin(take: Take) -> Heard:
    return _judged(take, librosa_onsets(take).attacks, _librosa_pitches(take, probable=False))


def aubio_onsets(take: Take) -> Heard:
    """Spectral flux without whitening and compression."""
    import aubio

    rate = take.rate // DOWN
    onset = aubio.onset("specflux", ONSET_WINDOW, AUBIO_HOP, rate)
    onset.set_awhitening(False)
    onset.set_compression(0.0)
    onset.set_threshold(AUBIO_THRESHOLD)
    onset.set_silence(AUBIO_SILENCE_DB)
    onset.set_minioi_s(AUBIO_APART_S)
    halved = resample_poly(take.samples, 1, DOWN).astype(np.float32)
    found = [float(onset.get_last_s()) for block in _hops(halved, AUBIO_HOP) if onset(block)[0]]
    return Heard(tuple(at for at in found if at > BEGINNING_S))


def _aubio_pitches(samples: Samples, rate: int) -> Track:
    import aubio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pitch = aubio.pitch("yinfast", PITCH_WINDOW, AUBIO_PITCH_HOP, rate)
    pitch.set_unit("midi")
    pitch.set_silence(AUBIO_SILENCE_DB)
    heard = np.array([float(pitch(block)[0]) for block in _hops(samples, AUBIO_PITCH_HOP)])
    # A pitch is that of the whole window before the end of its block.
    ends = (np.arange(len(heard)) + 1) * AUBIO_PITCH_HOP - PITCH_WINDOW / 2
    return Track(ends / rate, np.where(heard > 0, heard, np.nan))


def _hops(samples: Samples, hop: int) -> Samples:
    """(n, hop): the last one is filled up with silence."""
    filled = np.concatenate([samples, np.zeros(-len(samples) % hop, np.float32)])
    return filled.reshape(-1, hop)


def librosa_onsets(take: Take) -> Heard:
    """Its onset strength, in steps of 3 ms."""
    import librosa

    rate = take.rate // DOWN
    strength = librosa.onset.onset_strength(
        y=resample_poly(take.samples, 1, DOWN),
        sr=rate,
        hop_length=LIBROSA_HOP,
        n_fft=ONSET_WINDOW,
    )
    found = librosa.onset.onset_detect(
        onset_envelope=strength,
        sr=rate,
        hop_length=LIBROSA_HOP,
        units="time",
        delta=LIBROSA_DELTA,
    )
    return Heard(tuple(map(float, found)))


def _librosa_pitches(take: Take, *, probable: bool) -> Track:
    import librosa

    given = {
        "y": take.samples, "sr": take.rate, "fmin": LOWEST_HZ, "fmax": HIGHEST_HZ,
        "frame_length": PITCH_WINDOW, "hop_length": LIBROSA_PITCH_HOP,
    }  # fmt: skip
    hz = librosa.pyin(**given)[0] if probable else librosa.yin(**given)
    return Track(np.arange(len(hz)) * LIBROSA_PITCH_HOP / take.rate, librosa.hz_to_midi(hz))


def _judged(take: Take, attacks_s: tuple[float, ...], track: Track) -> Heard:
    """The verdicts of the coach's judge on attacks and pitches of others."""
    expected = Expected.from_dict(take.expected)
    ends = [*attacks_s[1:], float("inf")]
    attacks = tuple(
        Attack(
            round(at * take.rate),
            track.between(at + SETTLED_S, min(end, at + LONGEST_S)),
            fine=True,
        )
        for at, end in zip(attacks_s, ends, strict=True)
    )
    judge = Judge(expected.dues(take.rate), Rules(), take.rate)
    judge.step(Evidence(attacks, up_to_frame=len(take.samples)))
    judge.finish()
    return heard_of(judge.report().to_dict())


HEARERS: dict[tuple[str, str], Callable[[Take], Heard]] = {
    ("aubio-ledfx", "yinfast"): by_aubio,
    ("librosa", "pyin"): by_librosa_pyin,
    ("librosa", "yin"): by_librosa_yin,
}
ONSETS: dict[str, Callable[[Take], Heard]] = {
    "aubio-ledfx": aubio_onsets,
    "librosa": librosa_onsets,
}
