"""The work of a live take as a share of one core, fed in the blocks of a sound card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.signal import resample_poly

from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.hear.follow.ear import FollowEar
from coach.hear.through import ThroughEar
from coach.ports.ensemble.track import EnsembleTrack
from coach.roles import Ear
from tests.bed.render import make_take
from tests.bed.sources import load_notes
from tests.bed.take import Take
from tests.benchmarks.scorecard.blocks import BLOCK, RATE, blocks, by_aubio
from tests.benchmarks.scorecard.processes import SHARED, busy
from tests.benchmarks.scorecard.rows import Figure
from tests.benchmarks.scorecard.voices import eight_voices

NOTES_PER_S, SECONDS, QUICK_SECONDS = 8.0, 60, 10
PERCENT = 100.0


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.LIVE."""
    take = played(QUICK_SECONDS if quick else SECONDS)
    length_s = len(take.samples) / RATE
    dues = Expected.from_dict(take.expected).dues(RATE)
    # The voices sound and are heard through; their leak costs the same however loud it is.
    voices, alone = eight_voices(), eight_voices()
    work_s = {
        "aubio": busy(lambda: by_aubio(take.samples))[1],
        "follow": busy(lambda: judged(take, FollowEar(dues, RATE)))[1],
        "through": busy(lambda: judged(take, ThroughEar(dues, RATE, voices.render)))[1],
        "voices": busy(lambda: _sounded(alone, len(take.samples)))[1],
    }
    shares = {name: PERCENT * seconds / length_s for name, seconds in work_s.items()}
    n = f"{length_s:.0f} s"
    return {
        "follow": Figure(shares["follow"], shares["aubio"], n),
        "through": Figure(shares["through"], shares["aubio"], n),
        "voices": Figure(shares["voices"], None, n),
    }


def played(seconds: int) -> Take:
    """A fast take with mistakes at the rate of a sound card."""
    count = round(seconds * NOTES_PER_S)
    take = make_take(
        np.random.default_rng(11),
        load_notes(SHARED, "test"),
        notes_per_s=NOTES_PER_S,
        count=count,
        faults=True,
        room="typ",
    )
    samples = resample_poly(take.samples, RATE // 300, take.rate // 300).astype(np.float32)
    return replace(take, samples=samples, rate=RATE)


def judged(take: Take, ear: Ear) -> Judge:
    """A take heard and judged as it comes in."""
    judge = Judge(Expected.from_dict(take.expected).dues(RATE), Rules(), RATE)
    for frame, block in blocks(take.samples):
        judge.step(ear.feed(Chunk(frame, BLOCK, block)))  # type: ignore[arg-type]
    judge.step(ear.finish())
    judge.finish(follows=True)
    return judge


def _sounded(track: EnsembleTrack, length_frames: int) -> None:
    for frame in range(0, length_frames, BLOCK):
        track.render(frame, BLOCK)
