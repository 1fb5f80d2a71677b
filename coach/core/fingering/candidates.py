"""Which fingerings give a note, from the physics of tubes and valves.

Partial n of a tube sounds 1200 * log2(n) cents above its fundamental.  A valve tuned alone to s
semitones adds 2**(s/12) - 1 of the open tube; loops of several valves add up, and the sum x lowers
the tube by 1200 * log2(1 + x) cents, less than the sum of the semitones: 1+2, 2+3, 1+3 and 1+2+3
are 10.6, 15.5, 30.3 and 53.6 cents sharp (arithmetic; "Intonation tendencies of combination
fingerings", 2023, gives 11, 16, 30 and 54).  A compensating valve lengthens the other loops in its
own proportion.  A slide in position p is p - 1 semitones longer, exactly at its nominal place.

A fingering is a candidate where the *nominal* semitones of partial and valves meet the note and the
real pitch is within 60 cents of it: cents alone would let in B-flat 1+2+3 as five semitones.

Stopping a horn with the hand raises the F side by about a semitone, so one fingers a half step
lower there (common practice); the B-flat side shifts by more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from coach.core.instrument import Instrument, Tube

LIMIT_CENTS = 60.0
HIGHEST_PARTIAL = 20
# Out of tune in the series by 30 to 50 cents: 7 is used in fast passages, 11 and 13 in no chart.
EXTRA_PARTIALS = frozenset({7, 11, 13, 14})
STOPPED_SIGN = "+"
STOPPED_SEMITONES = 1
_PARTIALS = {round(12 * math.log2(n)): n for n in range(1, HIGHEST_PARTIAL + 1)}


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to play a note.

    `fingering` is the lever's letter if any, then "0" or valve digits ("T12"), for a slide the
    position ("T3"), with "+" behind when stopped.  `cents` is the deviation from equal temperament,
    + is sharp; `drop` the real semitones by which valves or slide lengthen the tube; `length` the
    semitones by which the whole lies below the shortest open tube of the instrument; `extra` marks
    partials 7, 11, 13 and 14.
    """

    fingering: str
    side: str
    valves: str
    lever: str
    partial: int
    cents: float
    drop: float
    length: float
    extra: bool


def candidates(
    instrument: Instrument, pitch: int, *, stopped: bool = False
) -> tuple[Candidate, ...]:
    """All fingerings for the sounding `pitch`, least |cents| first, then the shortest tube.

    Looks at the physics only: whether the pitch is in the range is for the caller.  `stopped` asks
    for the hand-stopped note; empty where the instrument can't be stopped.
    """
    if not stopped:
        return tuple(sorted(_open(instrument, pitch), key=_order))
    half_step_lower = _open(instrument, pitch - STOPPED_SEMITONES)
    found = (c for c in half_step_lower if c.side == instrument.stopped_side)
    return tuple(
        replace(c, fingering=c.fingering + STOPPED_SIGN) for c in sorted(found, key=_order)
    )


def chart_fingering(instrument: Instrument, pitch: int, *, stopped: bool = False) -> str | None:
    """The usual fingering of the sounding `pitch`: as the instrument's chart says, else by rule.

    The rule: the tube named first (thumb up), the shortest length of it, no partial 7, 11, 13 or
    14; of two combinations with the same drop the one named first (1+2 before 3).  It gives every
    first choice of the published trumpet and euphonium charts.  Other tubes, then the extra
    partials, come in where nothing else is left; None where nothing gives the note.  There are no
    charts of stopped notes here, so these go by the rule.
    """
    if stopped:
        return _by_rule(instrument, candidates(instrument, pitch, stopped=True))
    for charted, fingering in instrument.chart:
        if charted == pitch:
            return fingering
    return _by_rule(instrument, _open(instrument, pitch))


def _by_rule(instrument: Instrument, found: Iterable[Candidate]) -> str | None:
    sides = [tube.side for tube in instrument.tubes]
    places = {combination: place for place, combination in enumerate(instrument.combinations)}

    def custom(c: Candidate) -> tuple[bool, int, int, int]:
        # On one tube the same note on a higher partial needs more valves.
        place = places.get(c.fingering, places.get(c.valves, 0))
        return c.extra, sides.index(c.side), c.partial, place

    best = min(found, key=custom, default=None)
    return best.fingering if best else None


def retuned(instrument: Instrument, semitones: Mapping[str, float]) -> Instrument:
    """The instrument with the main slide of some sides pulled (-) or pushed (+), valve slides with
    it: {"F": -1} is the F side tuned to E.

    The chart moves with the slides: a fingering keeps to the note that its side now gives with it.
    Where both sides claim a note, the side that stayed has it; where none does, the rule of
    `chart_fingering` holds.  ValueError for a side it hasn't.
    """
    sides = {tube.side for tube in instrument.tubes}
    unknown = sorted(set(semitones) - sides)
    if unknown:
        raise ValueError(f"no side {unknown[0]!r}; there are: {', '.join(sorted(sides))}")
    tubes = tuple(_moved(tube, semitones.get(tube.side, 0)) for tube in instrument.tubes)
    return replace(instrument, tubes=tubes, chart=_moved_chart(instrument, semitones))


def _moved_chart(
    instrument: Instrument, semitones: Mapping[str, float]
) -> tuple[tuple[int, str], ...]:
    moved = []
    for pitch, fingering in instrument.chart:
        side = next((c.side for c in _open(instrument, pitch) if c.fingering == fingering), "")
        steps = round(semitones.get(side, 0))
        moved.append((abs(steps), pitch + steps, fingering))
    chart: dict[int, str] = {}
    for _, pitch, fingering in sorted(moved, key=lambda entry: entry[0]):
        chart.setdefault(pitch, fingering)
    return tuple(sorted(chart.items()))


def crooked(instrument: Instrument, crook: str) -> Instrument:
    """The instrument with another crook in it: tubes, transposition and range move together.

    ValueError where there is no such crook.
    """
    transpositions = dict(instrument.crooks)
    if crook not in transpositions:
        raise ValueError(f"no crook {crook!r}; there are: {', '.join(transpositions)}")
    moved = transpositions[crook] - instrument.transposition
    tubes = tuple(_moved(tube, moved) for tube in instrument.tubes)
    return replace(
        instrument,
        tubes=tubes,
        transposition=transpositions[crook],
        lowest=instrument.lowest + moved,
        highest=instrument.highest + moved,
        chart=tuple((pitch + moved, fingering) for pitch, fingering in instrument.chart),
    )


def _moved(tube: Tube, semitones: float) -> Tube:
    return replace(tube, fundamental=tube.fundamental + semitones)


def _order(candidate: Candidate) -> tuple[float, float, str]:
    # Rounded: sums of logarithms that are equal on paper differ in the last digits.
    return round(abs(candidate.cents), 6), round(candidate.length, 6), candidate.fingering


@dataclass(frozen=True, slots=True)
class _Length:
    """A tube with valves down: `nominal` whole semitones longer by name, `drop` in truth."""

    tube: Tube
    valves: str
    nominal: int
    drop: float


def _open(instrument: Instrument, pitch: int) -> Iterator[Candidate]:
    shortest = max((tube.fundamental for tube in instrument.tubes), default=0.0)
    for length in _lengths(instrument):
        tube = length.tube
        base = round(tube.fundamental)
        partial = _PARTIALS.get(pitch - base + length.nominal)
        if partial is None or partial > instrument.highest_partial:
            continue
        real = tube.fundamental - length.drop + 12 * math.log2(partial)
        cents = 100 * (real - pitch)
        if abs(cents) <= LIMIT_CENTS:
            yield Candidate(
                fingering=tube.lever + length.valves,
                side=tube.side,
                valves=length.valves,
                lever=tube.lever,
                partial=partial,
                cents=cents,
                drop=length.drop,
                length=shortest - tube.fundamental + length.drop,
                extra=partial in EXTRA_PARTIALS,
            )


@lru_cache(maxsize=32)
def _lengths(instrument: Instrument) -> tuple[_Length, ...]:
    """Every tube of the instrument with every combination that it has."""
    return tuple(
        _Length(tube, valves, *_drop(instrument, valves))
        for tube in instrument.tubes
        for valves in _combinations(instrument, tube.lever)
    )


def _combinations(instrument: Instrument, lever: str) -> list[str]:
    """The combinations of the tube with this lever, without its letter."""
    own = [c[1:] for c in instrument.combinations if lever and c.startswith(lever)]
    return own or [c for c in instrument.combinations if c.isdigit()]


def _drop(instrument: Instrument, combination: str) -> tuple[int, float]:
    """Nominal and real semitones by which a combination lengthens an open tube."""
    if instrument.slide:
        return int(combination) - 1, float(int(combination) - 1)
    down = [valve for valve in instrument.valves if valve.name in combination]
    nominal = dict(instrument.used_as).get(combination, sum(valve.semitones for valve in down))
    second = [valve for valve in down if valve.name == instrument.compensating]
    if second:
        down = [valve for valve in down if valve not in second]
    added = sum(2 ** (valve.semitones / 12) - 1 for valve in down)
    return nominal, 12 * math.log2(1 + added) + sum(valve.semitones for valve in second)
