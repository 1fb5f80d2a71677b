"""The cost of single notes and moves, by term.  The only place where a fingering gets its price."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from coach.core.fingering.candidates import Candidate
from coach.core.fingering.spots import Spot
from coach.core.fingering.weights import Weights

Terms = dict[str, float]
# The chart's fingering of a note, then the usual ones of the other sides; () where there is none.
Usual = tuple[str, ...]
MOST_EXCHANGES = 4
NARROW_FROM = 8


@dataclass(frozen=True, slots=True)
class Move:
    """From one fingering to the next: `terms` without the exchanges, their sum, and the exchanges:
    their cost as the first of a phrase, and how many there are."""

    terms: Terms
    plain: float = 0.0
    exchange: float = 0.0
    exchanges: int = 0


def note_terms(
    candidate: Candidate, spot: Spot, usual: Usual, weights: Weights, *, slide: bool = False
) -> Terms:
    """The terms of holding `candidate`."""
    hurry = weights.hurry(spot.gap_s)
    share = math.sqrt(min(1.0, spot.gap_s / weights.long_note_s))
    found = {"intonation": weights.intonation * share * (candidate.cents / 20) ** 2}
    if not slide:
        found |= _held(candidate, hurry, weights)
    above = max(0, candidate.partial - NARROW_FROM)
    found["narrow_partials"] = weights.narrow_partials * above**2
    if not spot.slurred:
        found["clarity"] = weights.clarity * candidate.length * min(1.0, hurry)
    found["rare_partials"] = _rarity(candidate.partial, weights)
    found |= _unlearnt(candidate.fingering, spot.known, usual, weights)
    return {name: cost for name, cost in found.items() if cost}


def _held(candidate: Candidate, hurry: float, weights: Weights) -> Terms:
    third = "3" in candidate.valves
    both = third and "2" in candidate.valves
    return {
        "second_third": weights.second_third * hurry if both else 0.0,
        "ring_finger": weights.ring_finger * hurry if third else 0.0,
    }


def _unlearnt(fingering: str, known: str | None, usual: Usual, weights: Weights) -> Terms:
    if known is not None:
        return {"relearn": weights.relearn if fingering != known else 0.0}
    if not usual or fingering == usual[0]:
        return {}
    if fingering in usual:
        return {"other_side": weights.other_side}
    return {"custom": weights.custom}


def _rarity(partial: int, weights: Weights) -> float:
    if partial == 1:
        return weights.pedal
    if partial == 7:
        return weights.seventh
    return weights.rare if partial in (11, 13, 14) else 0.0


def move_terms(
    before: Candidate, after: Candidate, spot: Spot, weights: Weights, *, slide: bool = False
) -> Move:
    """The terms of going from `before` to `after`, which is the fingering of `spot`."""
    hurry = weights.hurry(spot.before_s)
    terms: Terms = {}
    exchange, exchanges = 0.0, 0
    told, share = weights.measured.get((before.fingering, after.fingering), (0.0, 0.0))
    if slide:
        terms["slide"] = weights.slide * abs(int(after.valves) - int(before.valves)) * hurry
        terms["fingers"] = _levers(before, after, weights) * hurry
    else:
        ups, downs = _moved(before, after)
        terms["fingers"] = (
            sum(weights.finger.get(finger, 1.0) for finger in ups + downs)
            + _levers(before, after, weights)
        ) * hurry
        exchange = hurry * _dearest(ups, downs, weights)
        # Between phrases the fingers have time: what they do there counts for none.
        exchanges = int(bool(ups and downs) and not spot.fresh)
        terms["fingers"] *= 1 - share
        exchange *= 1 - share
        terms["measured"] = share * told * hurry
    terms |= _tube_terms(before, after, spot, hurry, weights)
    terms = {name: cost for name, cost in terms.items() if cost}
    return Move(terms, sum(terms.values()), exchange, exchanges)


def _tube_terms(
    before: Candidate, after: Candidate, spot: Spot, hurry: float, weights: Weights
) -> Terms:
    longer = max(0.0, after.length - before.length)
    found = {"length_added": weights.length_added * longer * min(1.0, hurry)}
    if before.side != after.side:
        run = not spot.fresh and spot.before_s < weights.side_change_gap_s
        found["side_changes"] = (
            weights.side_change_in_run if run else weights.side_change * min(1.0, hurry)
        )
    if spot.slurred:
        # Partials of two tubes cannot be counted against each other: the air is caught anew.
        crossed = abs(after.partial - before.partial) if before.side == after.side else 1
        found["partials_slurred"] = weights.partials_slurred * crossed
    return found


def _moved(before: Candidate, after: Candidate) -> tuple[list[str], list[str]]:
    """Valve fingers that go up, and that go down."""
    old, new = before.valves.replace("0", ""), after.valves.replace("0", "")
    return [f for f in old if f not in new], [f for f in new if f not in old]


def _dearest(ups: Sequence[str], downs: Sequence[str], weights: Weights) -> float:
    """The dearest of the pairs of fingers that pass each other."""
    pairs = ("".join(sorted(pair)) for pair in product(ups, downs))
    return max((weights.exchange.get(p, weights.other_exchange) for p in pairs), default=0.0)


def _levers(before: Candidate, after: Candidate, weights: Weights) -> float:
    changed = set(before.lever) ^ set(after.lever)
    return sum(weights.finger.get(lever, 1.0) for lever in changed)


def shape_weight(spot: Spot, weights: Weights) -> float:
    """What it costs that a note of a figure that returns has other valves than before."""
    return weights.same_shape * min(1.0, weights.hurry(spot.gap_s))


def exchange_growth(earlier: int, weights: Weights) -> float:
    """By how much exchanges are dearer after `earlier` ones in the phrase."""
    return 1 + weights.growth * min(earlier, MOST_EXCHANGES)


def cost_of(
    spots: Sequence[Spot],
    chosen: Sequence[Candidate],
    usual: Sequence[Usual],
    weights: Weights,
    *,
    slide: bool = False,
    places: range | None = None,
) -> tuple[Terms, ...]:
    """The terms of a plan, note by note; those of a move count for the note it leads to.

    `places` that begin with a phrase may be asked for alone.
    """
    costs: list[Terms] = []
    earlier = 0
    for k in range(len(spots)) if places is None else places:
        spot, here = spots[k], chosen[k]
        terms = note_terms(here, spot, usual[k], weights, slide=slide)
        earlier = 0 if spot.fresh else earlier
        if k:
            move = move_terms(chosen[k - 1], here, spot, weights, slide=slide)
            terms |= move.terms
            if move.exchange:
                terms["exchanges"] = move.exchange * exchange_growth(earlier, weights)
            earlier += move.exchanges
        if spot.image is not None and here.valves != chosen[spot.image].valves:
            terms["same_shape"] = shape_weight(spot, weights)
        costs.append(terms)
    return tuple(costs)


def total(terms: Sequence[Terms]) -> float:
    """The cost of a plan."""
    return sum(sum(each.values()) for each in terms)
