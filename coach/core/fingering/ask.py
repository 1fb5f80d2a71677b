"""From a passage, a tempo and an instrument to the planner's problem, and a given fingering to its
cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.core.fingering.candidates import (
    STOPPED_SEMITONES,
    STOPPED_SIGN,
    Candidate,
    candidates,
    chart_fingering,
)
from coach.core.fingering.problem import FingeringPlan, Problem
from coach.core.fingering.spots import Spot, spots_of
from coach.core.fingering.terms import Usual
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.passage import Passage

UNCHARTED = (11, 13, 14)


class NoFingeringError(ValueError):
    """A note that no fingering (or not the one asked for) reaches: its place from 0, its pitch, and
    the fingerings that would do."""

    def __init__(self, index: int, pitch: int, asked: str | None, allowed: Sequence[str]) -> None:
        super().__init__(f"note {index + 1} (sounding {pitch}) cannot be fingered {asked or ''}")
        self.index = index
        self.pitch = pitch
        self.asked = asked
        self.allowed = tuple(allowed)


def problem_of(
    passage: Passage,
    tempo_bpm: float,
    instrument: Instrument,
    weights: Weights,
    *,
    known: Sequence[str | None] | None = None,
    stopped: bool = False,
) -> Problem:
    """`known`: the fingerings that the fingers know, one a note or None.

    Raises NoFingeringError.
    """
    spots = spots_of(passage, tempo_bpm, weights, known=known)
    pitches = {spot.pitch for spot in spots}
    reached = {pitch: candidates(instrument, pitch, stopped=stopped) for pitch in pitches}
    choices = tuple(_choice(k, spot, reached[spot.pitch]) for k, spot in enumerate(spots))
    usual_of = _usual_stopped if stopped else _usual
    usual = {pitch: usual_of(instrument, pitch) for pitch in pitches}
    return Problem(
        spots, choices, tuple(usual[spot.pitch] for spot in spots), weights, instrument.slide
    )


def fixed_plan(
    problem: Problem, instrument: Instrument, fingerings: Sequence[str], *, stopped: bool = False
) -> FingeringPlan:
    """What a given fingering costs; as many as there are notes.  Raises NoFingeringError."""
    chosen = tuple(
        _named(k, spot.pitch, candidates(instrument, spot.pitch, stopped=stopped), name)
        for k, (spot, name) in enumerate(zip(problem.spots, fingerings, strict=True))
    )
    return FingeringPlan(chosen, problem.costs(chosen))


def _usual(instrument: Instrument, pitch: int) -> Usual:
    """The chart's fingering, then those that the other sides have as instruments of their own."""
    charted = chart_fingering(instrument, pitch)
    if charted is None:
        return ()
    side = next((c.side for c in candidates(instrument, pitch) if c.fingering == charted), None)
    alone = (
        replace(instrument, tubes=(tube,), chart=())
        for tube in instrument.tubes
        if tube.side != side
    )
    others = (chart_fingering(one, pitch) for one in alone)
    return charted, *(other for other in others if other is not None)


def _usual_stopped(instrument: Instrument, pitch: int) -> Usual:
    """The usual fingering a half step lower on the side that is stopped."""
    tubes = tuple(tube for tube in instrument.tubes if tube.side == instrument.stopped_side)
    side = replace(instrument, tubes=tubes, chart=())
    fingering = chart_fingering(side, pitch - STOPPED_SEMITONES)
    return () if fingering is None else (fingering + STOPPED_SIGN,)


def _choice(k: int, spot: Spot, found: tuple[Candidate, ...]) -> tuple[Candidate, ...]:
    if not found:
        raise NoFingeringError(k, spot.pitch, None, ())
    if spot.known is not None:
        _named(k, spot.pitch, found, spot.known)
    if spot.pinned is None:
        # What stands in no chart is for notes that have nothing else.
        return tuple(c for c in found if c.partial not in UNCHARTED) or found
    return (_named(k, spot.pitch, found, spot.pinned),)


def _named(k: int, pitch: int, found: Sequence[Candidate], name: str) -> Candidate:
    same = [c for c in found if c.fingering == name]
    if not same:
        raise NoFingeringError(k, pitch, name, [c.fingering for c in found])
    return same[0]
