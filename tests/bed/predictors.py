"""What is measured on the bed: the coach itself, and what it must be held against.

`null` hears nothing and reports the expected times.  `hand_made` is what the coach would be without
its nets.  The two aubio detectors know no score; their
whitening and compression are off, and threshold, window and hop were chosen on training takes.
`oracle` reports the truth: it tests the scoring.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from scipy.signal import resample_poly

from tests.bed.score import Heard, NoteHeard
from tests.bed.take import Take

Predictor = Callable[[Take], Heard]

AUBIO_DOWN = 4
BLIND_BLOCK = 4096
SPURIOUS_S = 0.02


def null(take: Take) -> Heard:
    """The expected times, all clean."""
    notes = tuple(NoteHeard(at, "clean", 0.0) for at in take.onsets_s)
    return Heard(tuple(take.onsets_s), notes)


def oracle(take: Take) -> Heard:
    """The truth."""
    notes = tuple(NoteHeard(t.attack_s, t.kind, t.lag_ms) for t in take.truth)
    attacks = [t.attack_s for t in take.truth if t.attack_s is not None]
    return Heard((*attacks, *take.extras), notes)


def judged(take: Take) -> Heard:
    """`coach.assess`."""
    import coach

    expected = coach.Expected.from_dict(take.expected)
    return heard_of(coach.assess(take.samples, take.rate, expected).to_dict())


def heard_of(result: Mapping[str, Any]) -> Heard:
    """A result of `coach assess` as JSON, for scoring."""
    notes = tuple(NoteHeard(n["attack_s"], n["verdict"], n["lag_ms"]) for n in result["notes"])
    heard = [n.attack_s for n in notes if n.attack_s is not None]
    return Heard((*heard, *(e["attack_s"] for e in result["extra"])), notes)


def hand_made(take: Take) -> Heard:
    """The coach without its nets: the blind ear, and the judge's windows around the score."""
    from coach.core.expected import Expected
    from coach.core.judge import Judge
    from coach.core.rules import Rules
    from coach.core.take import Chunk
    from coach.hear.blind import BlindEar

    dues = Expected.from_dict(take.expected).dues(take.rate)
    ear, judge = BlindEar(take.rate), Judge(dues, Rules(), take.rate)
    for start in range(0, len(take.samples), BLIND_BLOCK):
        block = take.samples[start : start + BLIND_BLOCK]
        judge.step(ear.feed(Chunk(start, len(block), block)))  # type: ignore[arg-type]
    judge.step(ear.finish())
    judge.finish()
    return heard_of(judge.report().to_dict())


def specflux(take: Take) -> Heard:
    """aubio's spectral flux at a quarter of the rate."""
    return aubio_onsets(take, "specflux", 512, 64, 0.5)


def complex_domain(take: Take) -> Heard:
    """aubio's complex-domain onsets at a quarter of the rate."""
    return aubio_onsets(take, "complex", 256, 64, 0.25)


def aubio_onsets(take: Take, method: str, window: int, hop: int, threshold: float) -> Heard:
    import aubio

    rate = take.rate // AUBIO_DOWN
    # aubio reads wrong numbers from arrays that are not contiguous.
    samples = np.ascontiguousarray(resample_poly(take.samples, 1, AUBIO_DOWN), dtype=np.float32)
    samples = np.concatenate([samples, np.zeros(-len(samples) % hop, np.float32)])
    onset = aubio.onset(method, window, hop, rate)
    onset.set_awhitening(False)
    onset.set_compression(0.0)
    onset.set_threshold(threshold)
    onset.set_silence(-60.0)
    onset.set_minioi_s(0.04)
    found = []
    for start in range(0, len(samples), hop):
        if onset(samples[start : start + hop])[0]:
            found.append(float(onset.get_last_s()))
    return Heard(tuple(at for at in found if at > SPURIOUS_S))


COMPARED: dict[str, Predictor] = {
    "coach": judged,
    "hand-made": hand_made,
    "null": null,
    "aubio specflux": specflux,
    "aubio complex": complex_domain,
}
