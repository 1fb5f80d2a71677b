"""The ensemble as the live loop sounds it."""

from __future__ import annotations

from dataclasses import replace

from coach.core.exercise import Exercise
from coach.core.passage import Passage
from coach.core.timeline import plan_take
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.mixer import first_mix
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.track import EnsembleTrack
from coach.ports.ensemble.voicing import Waves
from tests.benchmarks.ensemble import BPM, invented
from tests.benchmarks.scorecard.blocks import RATE


def eight_voices() -> EnsembleTrack:
    """Ten minutes of eight invented voices."""
    return laid_out(invented())


def laid_out(ensemble: Ensemble) -> EnsembleTrack:
    """Every note on its frame; they are made when they are first asked for."""
    plan = replace(plan_take(Exercise(Passage(()), BPM, warp=ensemble.warp), RATE, 0), end_frame=0)
    return EnsembleTrack(ensemble, plan, first_mix(ensemble), Waves(Synthesis(RATE)))
