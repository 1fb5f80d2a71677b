"""A player in another tempo than the click's is told so, in one sentence."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from coach.core.advice import advice_for
from coach.core.judge import Judge
from coach.core.report import tempo_off_click
from coach.core.rules import Rules
from coach.core.take import Evidence
from tests.making import RATE, attacks_of, plan_of, scale

PITCHES = scale(58, 12) + scale(58, 12)[::-1]
TOO_SLOW = "You played 30 % slower than the click"


def report_of(tempo: float, *, jitter_ms: float = 0.0, pause_from: int = 99, pause_s: float = 0.0):
    """(report, exercise) of a take played `tempo` times as fast as the click, as an ear reports it
    that follows the player."""
    plan, rng = plan_of(PITCHES, tempo_bpm=90), Random(5)
    attacks = []
    for due, attack in zip(plan.dues, attacks_of(plan), strict=True):
        frame = plan.downbeat_frame + (due.frame - plan.downbeat_frame) / tempo
        frame += rng.gauss(0, jitter_ms) * RATE / 1000
        frame += pause_s * RATE if due.index >= pause_from else 0
        attacks.append(replace(attack, frame=round(frame), due=due.index))
    judge = Judge(plan.dues, Rules(), RATE)
    judge.step(Evidence(tuple(attacks), up_to_frame=100 * RATE, resolved=len(plan.dues)))
    return judge.report(), plan.exercise


def test_thirty_per_cent_slower_is_said_once():
    """Played at 63 to a click of 90."""
    report, exercise = report_of(0.7, jitter_ms=12)
    assert advice_for(report, exercise).startswith(f"{TOO_SLOW}: play it at 63")
    assert report.to_dict()["remarks"] == [f"{TOO_SLOW}."]
    assert tempo_off_click(report.verdicts) == pytest.approx(0.7, abs=0.01)


def test_faster_than_the_click_is_said():
    report, exercise = report_of(1.2)
    assert advice_for(report, exercise).startswith("You played 20 % faster than the click: listen")


@pytest.mark.parametrize("tempo", [0.97, 1.0, 1.03])
def test_near_the_click_nothing_is_said(tempo):
    report, exercise = report_of(tempo, jitter_ms=12)
    assert tempo_off_click(report.verdicts) is None
    assert report.said == ()
    assert "click" not in advice_for(report, exercise)


@pytest.mark.parametrize("place", [4, 8, 12, 16, 20])
def test_starting_again_late_is_no_other_tempo(place):
    """The line through all attacks is bent by a pause, the player's tempo is not."""
    report, _ = report_of(1.0, pause_from=place, pause_s=1.0)
    assert report.tempo_ratio < 0.93
    assert tempo_off_click(report.verdicts) is None


def test_who_is_lost_has_no_tempo():
    """Where a third was missed the rest may be taken for other notes."""
    report, _ = report_of(0.7)
    lost = [replace(v, attack=None, kind="missed") if v.index % 3 == 0 else v
            for v in report.verdicts]  # fmt: skip
    assert tempo_off_click(lost) is None
    few = [replace(v, attack=None, kind="missed") if v.index % 6 == 0 else v
           for v in report.verdicts]  # fmt: skip
    assert tempo_off_click(few) == pytest.approx(0.7, abs=0.01)


def test_too_few_notes_have_no_tempo():
    report, _ = report_of(0.7)
    assert tempo_off_click(report.verdicts[:11]) is None
    assert tempo_off_click(report.verdicts[:12]) == pytest.approx(0.7, abs=0.01)
