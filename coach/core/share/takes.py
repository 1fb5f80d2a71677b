"""A take out of a file: what no schema can check, and its report as it was told, with what rounding
took away computed again.

Nothing is judged anew: rules may have changed since, and what counts is what the player was told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import median
from typing import Any

from coach.core.passage import Passage
from coach.core.report import Report, report_of
from coach.core.rules import Rules
from coach.core.take import Attack, Take, Verdict
from coach.core.verdicts import Context

# The most that drill files make is 400, the longest movements have some 1,000; each is laid out.
MOST_BARS = 10_000


def checked_passage(passage: Passage) -> Passage:
    """The passage itself; ValueError if its bars can't be counted out."""
    shortest = min([passage.bar_beats, *(change.bar_beats for change in passage.changes)])
    pulses = [passage.pulse_beats, *(change.pulse_beats for change in passage.changes)]
    if shortest <= 0 or min(pulses) <= 0:
        raise ValueError("its bars have no length")
    if passage.end_beats / shortest > MOST_BARS:
        raise ValueError(f"it has more than {MOST_BARS:,} bars")
    return passage


def check_take(take: Take, told: Mapping[str, Any]) -> None:
    """ValueError if the parts of a take, and the report told of it, do not belong together."""
    passage = checked_passage(take.plan.exercise.passage)
    numbers = list(range(len(passage.notes)))
    if [due.index for due in take.plan.dues] != numbers:
        raise ValueError("its due notes are not those of its passage")
    if [note["index"] for note in told["notes"]] != numbers:
        raise ValueError("its report is not of these notes")
    if any(attack.due is not None and attack.due >= len(numbers) for attack in take.attacks):
        raise ValueError("an attack was heard as a note that is not there")


def report_told(take: Take, told: Mapping[str, Any]) -> Report:
    """The report that `told` is the rounded data of, as far as tallies ask for it.

    Times come out exactly up to 48,000 frames a second, beyond that within 0.02 ms; levels where
    the attack is found among those of the take, else as rounded.
    """
    rate = take.plan.rate
    offset_frames = _half_frames(told["offset_ms"], rate)
    heard = {(attack.frame, attack.due): attack for attack in take.attacks}
    attacks = [_attack(take, note, heard) for note in told["notes"]]
    context = Context(
        offset_frames,
        _applied_frames(take, attacks, told["notes"], offset_frames),
        told["tuning_cents"],
        _median_level(attacks),
    )
    verdicts = [
        _verdict(take, place, attack, note, context)
        for place, (attack, note) in enumerate(zip(attacks, told["notes"], strict=True))
    ]
    report = report_of(verdicts, (), take.gaps, context, Rules(), rate)
    return replace(report, passed=told["passed"], origin_frame=take.plan.downbeat_frame)


def _half_frames(told_ms: float, rate: int) -> float:
    """Frames out of rounded milliseconds: the median of whole numbers is one, or a half."""
    return round(2 * told_ms * rate / 1000) / 2


def _attack(
    take: Take, note: Mapping[str, Any], heard: Mapping[tuple[int, int | None], Attack]
) -> Attack | None:
    """The attack of a note, its level as it was heard where that is known."""
    if note["attack_s"] is None:
        return None
    rate = take.plan.rate
    frame = round(note["attack_s"] * rate) + take.plan.downbeat_frame
    found = heard.get((frame, note["index"])) or heard.get((frame, None))
    return Attack(
        frame,
        None if note["midi"] is None else float(note["midi"]),
        found.level_db if found else None,
        _frames(note["rise_ms"], rate),
        lag_frames=_frames(note["lag_ms"], rate),
        confidence=note["confidence"],
    )


def _frames(told_ms: float | None, rate: int) -> int | None:
    return None if told_ms is None else round(told_ms * rate / 1000)


def _applied_frames(
    take: Take,
    attacks: Sequence[Attack | None],
    notes: Sequence[Mapping[str, Any]],
    offset_frames: float,
) -> float:
    """What was taken off every deviation: the offset, or the most of it that the rules allowed,
    which they say in ms with one decimal at most."""
    rate = take.plan.rate
    taken = [
        attack.frame - due.frame - note["deviation_ms"] * rate / 1000
        for attack, due, note in zip(attacks, take.plan.dues, notes, strict=True)
        if attack is not None and note["deviation_ms"] is not None
    ]
    applied_frames = median(taken) if taken else offset_frames
    if abs(applied_frames - offset_frames) <= 0.01 * rate / 1000:
        return offset_frames
    return round(applied_frames * 1000 / rate, 1) * rate / 1000


def _median_level(attacks: Sequence[Attack | None]) -> float | None:
    levels = [a.level_db for a in attacks if a is not None and a.level_db is not None]
    return median(levels) if levels else None


def _verdict(
    take: Take, place: int, attack: Attack | None, note: Mapping[str, Any], context: Context
) -> Verdict:
    due = take.plan.dues[place]
    told = note["deviation_ms"]
    heard = attack is not None and told is not None
    return Verdict(
        place,
        note["verdict"],
        due,
        attack,
        attack.frame - due.frame - context.applied_offset_frames if attack and heard else None,
        note["midi"],
        note["cents"],
        _level(attack, note["level_db"], context.median_level_db),
        note["confidence"],
    )


def _level(attack: Attack | None, told_db: float | None, median_db: float | None) -> float | None:
    """As exact as it can be had: computed again if that rounds to what was told."""
    if attack is None or attack.level_db is None or median_db is None or told_db is None:
        return told_db
    level_db = attack.level_db - median_db
    return level_db if round(level_db, 2) == told_db else told_db
