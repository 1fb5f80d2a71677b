"""Stored takes judged again: by the same rules as live the result is the live one, by later rules
what these would have said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from coach.core.judge import judge_take
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Take


def judged_again(take: Take, rules: Rules, *, prior_offset_frames: float = 0.0) -> Report:
    """The report of a stored take.  `prior_offset_frames` is the player's offset in the take
    before, as in `Judge`; `passed` goes by the rules, not by a drill's own gate."""
    plan = take.plan
    report = judge_take(
        take,
        rules,
        prior_offset_frames=prior_offset_frames,
        listen_from_frame=plan.listen_from_frame,
    )
    return replace(report, origin_frame=plan.downbeat_frame)


def judged_in_order(takes: Iterable[tuple[Take, Rules]]) -> list[Report]:
    """Reports of takes in the order played: where a take's number follows the one before, it is of
    the same session and is judged with what was known of the player's offset.

    The first is judged as the first of a session; were it not, only its first notes could differ.
    """
    reports: list[Report] = []
    number, offset_frames = 0, 0.0
    for take, rules in takes:
        prior = offset_frames if take.number == number + 1 else 0.0
        reports.append(judged_again(take, rules, prior_offset_frames=prior))
        number, offset_frames = take.number, reports[-1].offset_ms * take.plan.rate / 1000
    return reports
