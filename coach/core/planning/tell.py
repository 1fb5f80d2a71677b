"""The plan in words: what to do in a turn, with the tempi it needs."""

from __future__ import annotations

from dataclasses import dataclass

from coach.core.planning.settings import PlanningSettings, Progress
from coach.core.planning.standing import Standing


@dataclass(frozen=True, slots=True)
class Tempi:
    """The tempi of a turn: it begins at `from_bpm` and leads to `aim_bpm`; a first cold take is at
    `check_bpm`, None where there is none."""

    from_bpm: float
    aim_bpm: float
    check_bpm: float | None


def tempi(one: Standing, today: int, settings: PlanningSettings, *, again: bool) -> Tempi:
    """`again`: the passage had a turn today, so that nothing is cold any more."""
    cold_bpm = None if again else _check_bpm(one, today, settings)
    return Tempi(_from_bpm(one, settings.progress), _aim_bpm(one, settings.progress), cold_bpm)


def _from_bpm(one: Standing, settings: Progress) -> float:
    """Where a turn begins: below what surely goes to build it, else at what is to go."""
    passage = one.passage
    if passage.ceiling_bpm is None:
        bpm = passage.goal_bpm * settings.start_share
    elif one.work:
        sure_bpm = min(
            passage.goal_bpm, passage.ceiling_bpm, passage.low_bpm or passage.ceiling_bpm
        )
        bpm = sure_bpm * settings.begin_share
    else:
        bpm = min(passage.goal_bpm, passage.ceiling_bpm)
    return min(passage.goal_bpm, max(1.0, float(round(bpm))))


def _check_bpm(one: Standing, today: int, settings: PlanningSettings) -> float | None:
    """The tempo of a first cold take: the goal, or the last ceiling of a passage that lay long."""
    passage = one.passage
    if one.kind == "check":
        return passage.goal_bpm
    away = passage.away(today)
    if one.kind != "build" or passage.ceiling_bpm is None or away is None:
        return None
    stale = away >= settings.gaps.stale_days
    return min(passage.goal_bpm, float(round(passage.ceiling_bpm))) if stale else None


def _aim_bpm(one: Standing, settings: Progress) -> float:
    """Where a turn is to lead: the goal, or a little above it where the goal only just goes; at
    what goes already where nothing is built."""
    passage = one.passage
    if not one.work:
        return passage.goal_bpm if one.kind == "check" else _from_bpm(one, settings)
    if passage.goes:
        return float(round(passage.goal_bpm * (1 + settings.reserve_percent / 100)))
    return passage.goal_bpm


def what(one: Standing, turn: Tempi, *, again: bool) -> str:
    """What to do in a turn; `again`: the passage had one today."""
    if one.kind == "check":
        return (
            f"One take at {turn.aim_bpm:.0f}, cold, before anything else: if it goes, leave it; if"
            " not, play it slower for the rest of the turn until it is clean."
        )
    if one.kind == "keep":
        return f"Once or twice from beginning to end at {turn.from_bpm:.0f}, and leave it."
    if again:
        return "Once more: begin where the last turn ended."
    if one.kind == "learn":
        return f"New: a few beats at a time at {turn.from_bpm:.0f} or slower, until all is clean."
    return _build(one, turn)


def _build(one: Standing, turn: Tempi) -> str:
    way = f"from {turn.from_bpm:.0f} on towards {turn.aim_bpm:.0f}"
    if turn.check_bpm is not None:
        cold = f"one take at {turn.check_bpm:.0f}, cold, to hear what is left of it"
        return f"It lay for a while: {cold}. Then {way}."
    if one.let_go:
        return f"{_known(one)}, and is what to make clean and even; {way} only where it is easy."
    if one.passage.slipped:
        return f"The last check failed: {way}, clean at each step."
    if one.passage.goes:
        return (
            f"{_known(one)}, but only just: {way}, so that {one.passage.goal_bpm:.0f} feels broad."
        )
    return f"{_known(one)}: {way}."


def _known(one: Standing) -> str:
    """ "96 goes (92 to 100)"."""
    passage = one.passage
    if passage.low_bpm is None or passage.high_bpm is None:
        return f"{passage.ceiling_bpm:.0f} goes"
    return f"{passage.ceiling_bpm:.0f} goes ({passage.low_bpm:.0f} to {passage.high_bpm:.0f})"
