"""The order of the day: checks first, then by turns, what goes at the end."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from coach.core.planning.settings import Sharing
from coach.core.planning.share import Shares, longest_turn
from coach.core.planning.standing import Standing

Turn = tuple[Standing, int]


def in_turns(shares: Shares, sharing: Sharing) -> list[Turn]:
    """Each turn with its minutes; no passage follows itself where there are two or more.

    Checks are cold only before everything else.  The hardest passage comes early, but not first.
    """
    order = [*shares.work, *shares.keeps, *_only(shares.between, shares.keeps)]
    lengths = _lengths(shares, sharing)
    visits = Counter(one.name for one in (*shares.keeps, *shares.between))
    least = {one.name: one.least_minutes for one in (*shares.keeps, *shares.between)}
    for name, count in visits.items():
        lengths[name] = [least[name]] * count
    turns: list[Turn] = [(check, check.least_minutes) for check in shares.checks]
    last = turns[-1][0].name if turns else _hardest(shares)
    for one in _apart(order, {name: len(parts) for name, parts in lengths.items()}, last):
        turns.append((one, lengths[one.name].pop(0)))
    return turns


def _only(between: Sequence[Standing], keeps: Sequence[Standing]) -> list[Standing]:
    """The passages of `between` that are not in `keeps`, once each."""
    names = {one.name for one in keeps}
    return list({one.name: one for one in between if one.name not in names}.values())


def _hardest(shares: Shares) -> str:
    """The passage of the most minutes, "" where none is worked at."""
    return max(shares.work, key=lambda one: shares.minutes[one.name]).name if shares.work else ""


def _lengths(shares: Shares, sharing: Sharing) -> dict[str, list[int]]:
    """The minutes of each passage that is worked at, cut into turns as long as may be, or into
    more where another one needs them between its own."""
    counts = {
        one.name: math.ceil(shares.minutes[one.name] / longest_turn(one, sharing))
        for one in shares.work
    }
    visits = len(shares.keeps) + len(shares.between) + bool(shares.checks)
    while counts and _lacking(counts, visits):
        most = max(counts, key=lambda name: counts[name])
        more = [one for one in shares.work if one.name != most and _can_split(one, counts, shares)]
        if not more:
            break
        split = max(more, key=lambda one: shares.minutes[one.name] / counts[one.name])
        counts[split.name] += 1
    return {name: _cut(shares.minutes[name], count) for name, count in counts.items()}


def _lacking(counts: dict[str, int], visits: int) -> bool:
    most = max(counts.values())
    return most > sum(counts.values()) - most + visits


def _can_split(one: Standing, counts: dict[str, int], shares: Shares) -> bool:
    return counts[one.name] < shares.minutes[one.name] // one.least_minutes


def _cut(minutes: int, count: int) -> list[int]:
    """Into so many parts as equal as may be, longer ones first."""
    each, over = divmod(minutes, count)
    return [each + (place < over) for place in range(count)]


def _apart(order: Sequence[Standing], counts: dict[str, int], last: str) -> list[Standing]:
    """As often as `counts` says, never the same twice in a row where that can be had; the one with
    the most turns to come first, in the order given where they have equally many."""
    left = dict(counts)
    found = []
    for _ in range(sum(left.values())):
        there = [one for one in order if left[one.name]]
        other = [one for one in there if one.name != last] or there
        best = max(other, key=lambda one: left[one.name])
        found.append(best)
        left[best.name] -= 1
        last = best.name
    return found
