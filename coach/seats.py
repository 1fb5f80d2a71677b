"""The players beside the first one: each has an own part, ear and judge, on the first one's axis.

The session knows the first player only.  Its ear here feeds the others too, so that all are heard
in the same turn of its loop, and holds the take open until the last of them is heard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from coach.core.gate import Gate
from coach.core.judge import Judge
from coach.core.passage import Passage
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Chunk, Evidence
from coach.core.timeline import Plan, plan_take
from coach.core.tutti.section import Section, SectionPlayer, section_of
from coach.roles import Ear

MakeEar = Callable[[Plan], Ear]


@dataclass(frozen=True, slots=True)
class Seat:
    """One player: the name of the part, what it plays, and the ear for where it is heard."""

    name: str
    passage: Passage
    transposition: int
    make_ear: MakeEar

    def plan(self, first: Plan) -> Plan:
        """The first player's plan with this one's notes."""
        exercise = replace(first.exercise, passage=self.passage, transposition=self.transposition)
        return plan_take(exercise, first.rate, first.downbeat_frame)


class Seats:
    """All players of a section, `seats[0]` the one whom the session knows.

    `one_scale`: their levels can be compared as they are (see `core.tutti.section`).
    """

    def __init__(
        self, seats: Sequence[Seat], rules: Rules, gate: Gate, *, one_scale: bool = False
    ) -> None:
        self.seats = tuple(seats)
        self._rules, self._gate, self._one_scale = rules, gate, one_scale
        self._offsets = [0.0] * (len(seats) - 1)
        self._heard: list[_Hearing] = []
        self._reports: list[Report] = []

    def ear(self, plan: Plan) -> SeatsEar:
        """The ear of the first player for one take, the others' beside it."""
        self._reports = []
        self._heard = [
            _Hearing(seat, plan, self._rules, offset)
            for seat, offset in zip(self.seats[1:], self._offsets, strict=True)
        ]
        return SeatsEar(self.seats[0].make_ear(plan), self._heard)

    def weakest(self, first: Report) -> Report:
        """The report of the take just played with the smallest share of clean notes."""
        return min((first, *self._others()), key=lambda report: report.accuracy)

    def section(self, first: Report, plan: Plan) -> Section:
        """How the take just played was together."""
        plans = (plan, *(one.plan for one in self._heard))
        reports = (first, *self._others())
        names = [seat.name for seat in self.seats]
        parts = [SectionPlayer(*part) for part in zip(names, reports, plans, strict=True)]
        return section_of(parts, one_scale=self._one_scale)

    def _others(self) -> list[Report]:
        if not self._reports:
            self._reports = [self._passed(one.report()) for one in self._heard]
            self._offsets = [
                report.offset_ms * one.plan.rate / 1000
                for one, report in zip(self._heard, self._reports, strict=True)
            ]
        return self._reports

    def _passed(self, report: Report) -> Report:
        return replace(report, passed=self._gate.passed(report.accuracy))


class SeatsEar:
    """A `roles.Ear` for the first player that hears the others on the way."""

    def __init__(self, first: Ear, others: Sequence[_Hearing]) -> None:
        self._first, self._others = first, others

    @property
    def clipped(self) -> bool:
        return self._first.clipped or any(one.ear.clipped for one in self._others)

    def feed(self, chunk: Chunk) -> Evidence:
        evidence = self._first.feed(replace(chunk, beside=()))
        for one, part in zip(self._others, chunk.beside, strict=True):
            one.feed(part)
        return replace(evidence, waiting=not all(one.over for one in self._others))

    def finish(self) -> Evidence:
        for one in self._others:
            one.finish()
        return self._first.finish()


class _Hearing:
    """One take of one of the others."""

    def __init__(self, seat: Seat, first: Plan, rules: Rules, offset_frames: float) -> None:
        self.plan = seat.plan(first)
        self.ear = seat.make_ear(self.plan)
        self._judge = Judge(
            self.plan.dues,
            rules,
            first.rate,
            prior_offset_frames=offset_frames,
            listen_from_frame=self.plan.listen_from_frame,
        )
        self._until, self._follows = 0, False

    @property
    def over(self) -> bool:
        return self._judge.finished and self._until >= self.plan.end_frame

    def feed(self, chunk: Chunk) -> None:
        evidence = self.ear.feed(chunk)
        self._follows = evidence.resolved is not None
        self._judge.step(evidence)
        self._until = chunk.end_frame

    def finish(self) -> None:
        self._judge.step(self.ear.finish())
        self._judge.finish(follows=self._follows)

    def report(self) -> Report:
        return replace(self._judge.report(), origin_frame=self.plan.downbeat_frame)
