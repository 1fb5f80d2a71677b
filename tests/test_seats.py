"""Players beside the first: heard in the same turns, judged on their own notes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.core.exercise import Drill
from coach.core.gate import Gate
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence
from coach.core.tutti.guide import TuttiGuide
from coach.seats import Seat, Seats
from tests.core.tutti.simulated import notes_of, plan_of

PLAN = plan_of(notes_of([60] * 12))
LOW = plan_of(notes_of([53] * 12))


class Typist:
    """An ear that hears whatever its player is known to do: due by due, so many frames late."""

    clipped = False

    def __init__(self, plan, late: int, misses: frozenset[int] = frozenset()) -> None:
        self.due = [
            Attack(due.frame + late, float(due.pitch), -20.0, due=due.index)
            for due in plan.dues
            if due.index not in misses
        ]

    def feed(self, chunk: Chunk) -> Evidence:
        come = tuple(one for one in self.due if one.frame < chunk.end_frame)
        self.due = self.due[len(come) :]
        return Evidence(come, up_to_frame=chunk.end_frame)

    def finish(self) -> Evidence:
        return Evidence()


def seats(late: int = 0, misses: frozenset[int] = frozenset()) -> Seats:
    low = LOW.exercise.passage
    return Seats(
        [
            Seat("first", PLAN.exercise.passage, -7, lambda plan: Typist(plan, 0)),
            Seat("second", low, -7, lambda plan: Typist(plan, late, misses)),
        ],
        Rules(),
        Gate(),
    )


def played(table: Seats, behind: int = 0):
    """A take in blocks; the second player's input lies `behind`.  (report, last evidence)"""
    from coach.core.judge import Judge

    ear = table.ear(PLAN)
    judge = Judge(PLAN.dues, Rules(), PLAN.rate)
    evidence = Evidence()
    for frame in range(0, PLAN.end_frame + 4800, 4800):
        beside = Chunk(frame - behind, 4800)
        evidence = ear.feed(Chunk(frame, 4800, beside=(beside,)))
        judge.step(evidence)
    judge.step(ear.finish())
    judge.finish()
    return judge.report(), evidence


def test_each_is_judged_on_the_own_notes():
    table = seats(late=480)
    report, _ = played(table)
    section = table.section(report, PLAN)
    assert section.players == ("first", "second")
    assert section.accuracies == (1.0, 1.0)
    assert [one.late_ms for one in section.standings] == pytest.approx([-5, 5], abs=0.1)


def test_the_tempo_follows_the_weakest():
    table = seats(misses=frozenset({2, 3, 4}))
    report, _ = played(table)
    report = replace(report, passed=True)
    assert report.accuracy == 1
    weakest = table.weakest(report)
    assert weakest.accuracy == pytest.approx(9 / 12)
    assert not weakest.passed
    drill = Drill("d", "D", "", (PLAN.exercise.passage,), from_bpm=60, to_bpm=90)
    alone, together = TuttiGuide(drill, 0), TuttiGuide(drill, 0, weakest=table.weakest)
    for guide in (alone, together):
        guide.after(report)
    assert together.pace.tempo_bpm < alone.pace.tempo_bpm


def test_the_take_waits_for_who_is_heard_later():
    _, evidence = played(seats())
    assert not evidence.waiting
    _, evidence = played(seats(), behind=9600)
    assert evidence.waiting


def test_the_offset_of_a_take_is_expected_in_the_next():
    """Within 40 ms as a rule; who is later by habit is judged about the own middle."""
    table = seats(late=round(0.038 * PLAN.rate))
    report, _ = played(table)
    table.section(report, PLAN)
    assert table._offsets == [pytest.approx(0.038 * PLAN.rate, abs=2)]
