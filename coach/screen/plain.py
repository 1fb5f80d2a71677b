"""The screen as lines of plain text: for pipes, plain terminals and screen readers.

One line when a take starts, one for each fault as it falls, and two at the end of the take.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from coach.core.take import Verdict
from coach.core.timeline import Plan
from coach.core.view import View
from coach.screen.linewriter import LineWriter
from coach.screen.words import (
    UNJUDGED,
    fault_line,
    outcome_line,
    own_name,
    part_facts,
    printable,
    speed_words,
    spelling_of,
    standing_of,
    summary_facts,
)


class PlainScreen(LineWriter):
    """Writes what is new in each view."""

    def __init__(self, stream: TextIO) -> None:
        super().__init__(stream)
        self._plan: Plan | None = None
        self._told: dict[int, str] = {}
        self._ended = 0
        self._notice = ""
        self._phase = ""
        self._why = ""

    def draw(self, view: View) -> None:
        if view.last is None and view.advice != self._why:
            self._why = view.advice
            self._say(view.advice)
        self._ended = min(self._ended, len(view.path))  # another session begins at none
        if view.plan is not None and view.plan is not self._plan:
            self._start(view, view.plan)
        if len(view.path) > self._ended:
            self._end(view)
        elif view.plan is not None:
            self._tell(view.verdicts)
        if view.phase == "paused" != self._phase:
            self._say("Paused.")
        if view.notice and view.notice != self._notice:
            self._say(f"Note: {view.notice}")
        self._phase, self._notice = view.phase, view.notice

    def summarize(self, view: View, reason: str = "") -> None:
        """The end of the session, one fact a line."""
        for name, value in summary_facts(view, reason):
            self._say(f"{name}: {value}")

    def summarize_course(
        self, title: str, parts: Sequence[tuple[str, View]], reason: str = ""
    ) -> None:
        """The end of a course, one part a line."""
        self._say(title)
        for name, value in (part_facts(*part) for part in parts):
            self._say(f"  {name}: {value}")
        if reason:
            self._say(f"ended: {reason}")

    def _start(self, view: View, plan: Plan) -> None:
        name = f"{view.title}, take" if self._plan is None else "Take"
        variant = own_name(view.title, plan.exercise.passage.title)
        self._plan, self._told = plan, {}
        tempo = f"{plan.exercise.tempo_bpm:g}"
        if plan.exercise.passage.way in UNJUDGED:
            what = UNJUDGED[plan.exercise.passage.way][0]
            self._say(f"{f'{variant}, ' if variant else ''}{what}, at {tempo}: not judged.")
            return
        if view.speed is not None:
            of = f"{printable(view.title)}, take {view.take} at {tempo}"
            self._say(f"{of}, played back at {speed_words(view.speed)}.")
            return
        standing = standing_of((), view.gate, len(plan.dues))
        self._say(
            f"{name} {view.take} at {tempo}{f' ({variant})' if variant else ''}: "
            f"{standing.notes} notes; {standing.needed} clean ones pass the gate."
        )

    def _tell(self, verdicts: Sequence[Verdict]) -> None:
        """The faults that are new, and what the whole take changed."""
        for verdict in verdicts:
            before = self._told.get(verdict.index, "clean")
            if verdict.kind != before:
                self._say(f"  {self._line(verdict)}")
            self._told[verdict.index] = verdict.kind

    def _line(self, verdict: Verdict) -> str:
        assert self._plan is not None
        words = fault_line(verdict, spelling_of(self._plan.exercise), self._plan.rate)
        return f"{words} after all" if verdict.index in self._told else words

    def _end(self, view: View) -> None:
        self._ended = len(view.path)
        self._notice = ""  # what is said of one take may be said of the next one too
        if view.last is None:
            return
        if self._plan is not None:
            self._tell(view.last.verdicts)
        self._say(f"Take {view.path[-1].number}: {outcome_line(view)}")
        if view.advice:
            self._say(view.advice)
