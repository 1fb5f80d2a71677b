"""Rushing, dragging, and tempo changes that were not followed.

Rushing: within each stretch between rests and tempo changes, a line through the deviations that is
level up to some bar line and slopes from there on; of all bar lines that leave eight notes the one
that fits best.  It is told as clear where the 99 % interval of the slope leaves out 0, the chance
of error shared among the bar lines tried, and the deviation grows by 25 ms or more.  (Players who
keep the tempo with a spread of 12 ms are wrongly told of in 0 to 1 % of stretches of 16 to 64
notes, in up to 4 % where neighbouring errors are as alike as r = 0.6.)

Tempo changes: inside a change the deviations are laid against those of somebody who stays in the
tempo before it; the slope of that line is the share that was not followed (0: followed, 1: the old
tempo went on, below 0: overdone).  Clear where its 99 % interval lies beyond a quarter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.passage import bar_index
from coach.core.timeline import Plan, frame_of
from coach.core.tutti.heard import HeardAmong
from coach.core.tutti.slopes import Slope, slope_of
from coach.core.warp import Warp

FEWEST_NOTES = 8
CHANCE = 0.99
# The tolerance of the usual rules: less is inside what counts as clean.
SMALLEST_GROWTH_MS = 25.0
# Steps of a tempo no further apart than this are one ritardando or accelerando.
GRADUAL_BEATS = Fraction(2)
NOT_FOLLOWED = 0.25
# With less between the old tempo and the new, there is nothing to follow.
SMALLEST_CHANGE_MS = 20.0


@dataclass(frozen=True, slots=True)
class Drift:
    """How the deviation moves in one stretch: by `ms_per_bar` from bar `from_bar` on (below 0: the
    player rushes), with the interval `low` to `high`; over the whole by `growth_ms`."""

    from_bar: int
    to_bar: int
    ms_per_bar: float
    low_ms: float
    high_ms: float
    growth_ms: float
    notes: int
    clear: bool


@dataclass(frozen=True, slots=True)
class Change:
    """From the share `before` of the tempo to `after`, between two beats of the page."""

    start_beats: Fraction
    end_beats: Fraction
    before: Fraction
    after: Fraction
    gradual: bool


@dataclass(frozen=True, slots=True)
class Followed:
    """How a change was followed: `kept` is the share that was not (interval `low` to `high`), and
    `growth_ms` what it came to at the end of the change (below 0: ahead)."""

    change: Change
    from_bar: int
    to_bar: int
    kept: float
    low: float
    high: float
    growth_ms: float
    notes: int
    clear: bool


def changes_of(warp: Warp | None, sudden_beats: Fraction) -> tuple[Change, ...]:
    """The tempo changes in order; one that comes at once is looked at for `sudden_beats`."""
    steps = warp.steps if warp else ()
    found: list[list[int]] = []
    for k in range(1, len(steps)):
        if found and found[-1][-1] == k - 1 and _goes_on(steps, k):
            found[-1].append(k)
        else:
            found.append([k])
    return tuple(_change(steps, ks, sudden_beats) for ks in found)


Steps = Sequence[tuple[Fraction, Fraction]]


def _goes_on(steps: Steps, k: int) -> bool:
    (_, first), (at, second), (beat, third) = steps[k - 2 : k + 1]
    return beat - at <= GRADUAL_BEATS and (second > first) == (third > second)


def _change(steps: Steps, ks: Sequence[int], sudden_beats: Fraction) -> Change:
    start, last = steps[ks[0]][0], steps[ks[-1]][0]
    gradual = len(ks) > 1
    length = last - steps[ks[-1] - 1][0] if gradual else sudden_beats
    following = steps[ks[-1] + 1][0] if ks[-1] + 1 < len(steps) else None
    end = last + length if following is None else min(last + length, following)
    return Change(start, end, steps[ks[0] - 1][1], steps[ks[-1]][1], gradual)


def followed(plan: Plan, heard: Sequence[HeardAmong]) -> tuple[Followed, ...]:
    """Every tempo change in which enough notes were heard to tell."""
    changes = changes_of(plan.exercise.warp, plan.exercise.passage.bar_beats)
    told = (_followed(plan, change, heard) for change in changes)
    return tuple(one for one in told if one is not None)


def _followed(plan: Plan, change: Change, heard: Sequence[HeardAmong]) -> Followed | None:
    inside = [h for h in heard if change.start_beats <= h.beats <= change.end_beats]
    stays = [_staying_ms(plan, change, h) for h in inside]
    if not inside or max(stays) - min(stays) < SMALLEST_CHANGE_MS:
        return None
    slope = slope_of(stays, [h.off_ms for h in inside], CHANCE)
    if slope is None:
        return None
    grown = slope.value * (stays[-1] - stays[0])
    clear = slope.beyond(NOT_FOLLOWED)
    return Followed(
        change,
        inside[0].bar,
        inside[-1].bar,
        slope.value,
        slope.low,
        slope.high,
        grown,
        len(inside),
        clear,
    )


def _staying_ms(plan: Plan, change: Change, note: HeardAmong) -> float:
    """Where the note would fall, against where it is due, if the tempo before had gone on."""
    exercise = plan.exercise
    assert exercise.warp is not None
    before = tuple(step for step in exercise.warp.steps if step[0] < change.start_beats)
    stays = replace(exercise, warp=replace(exercise.warp, steps=before))
    frame = frame_of(stays, plan.rate, plan.downbeat_frame, note.beats)
    return (frame - note.due_frame) * 1000 / plan.rate


def drifts(plan: Plan, heard: Sequence[HeardAmong], entries: Sequence[int]) -> tuple[Drift, ...]:
    """The drift of each stretch of eight notes or more; `entries` are the indices of the notes that
    begin a new one, and are told of apart: a late one is no rushing afterwards."""
    changes = changes_of(plan.exercise.warp, plan.exercise.passage.bar_beats)
    told = (_drift(plan, stretch) for stretch in _stretches(heard, entries, changes))
    return tuple(one for one in told if one is not None)


def _stretches(
    heard: Sequence[HeardAmong], entries: Sequence[int], changes: Sequence[Change]
) -> list[list[HeardAmong]]:
    found: list[list[HeardAmong]] = [[]]
    begins, place = set(entries), -1
    for note in heard:
        # A missed entry begins a stretch too.
        new = any(k in begins for k in range(place + 1, note.index + 1))
        if new or any(c.start_beats <= note.beats <= c.end_beats for c in changes):
            found.append([])
        place = note.index
        inside = any(c.start_beats <= note.beats < c.end_beats for c in changes)
        if not inside and note.index not in begins:
            found[-1].append(note)
    return [stretch for stretch in found if len(stretch) >= FEWEST_NOTES]


def _drift(plan: Plan, stretch: Sequence[HeardAmong]) -> Drift | None:
    starts = _starts(plan, stretch)
    chance = 1 - (1 - CHANCE) / len(starts)
    tried = [(start, _sloping(stretch, start, chance)) for start in starts]
    fits = [(start, slope) for start, slope in tried if slope is not None]
    if not fits:
        return None
    start, slope = min(fits, key=lambda fit: fit[1].squares)
    bars = plan.exercise.passage.bars
    number = bar_index(bars, start)
    bar_beats = float(bars[number].end_beats - bars[number].start_beats)
    growth = slope.value * float(stretch[-1].beats - start)
    return Drift(
        plan.exercise.passage.first_bar + number,
        stretch[-1].bar,
        slope.value * bar_beats,
        slope.low * bar_beats,
        slope.high * bar_beats,
        growth,
        sum(note.beats >= start for note in stretch),
        slope.beyond(0.0) and abs(growth) >= SMALLEST_GROWTH_MS,
    )


def _starts(plan: Plan, stretch: Sequence[HeardAmong]) -> list[Fraction]:
    """The first note, and every bar line after it that leaves enough notes."""
    last = stretch[-FEWEST_NOTES].beats
    lines = [bar.start_beats for bar in plan.exercise.passage.bars]
    first = stretch[0].beats
    return [first, *(line for line in lines if first < line <= last)]


def _sloping(stretch: Sequence[HeardAmong], start: Fraction, chance: float) -> Slope | None:
    places = [max(0.0, float(note.beats - start)) for note in stretch]
    return slope_of(places, [note.off_ms for note in stretch], chance)
