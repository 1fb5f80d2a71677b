"""Guides a session through a trial: whichever way has the turn, at the tempo of its pair."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import median

from coach.core.exercise import ClickStyle, Exercise
from coach.core.gate import Pace
from coach.core.passage import Passage
from coach.core.report import Report
from coach.core.trial.order import Way
from coach.core.trial.trial import Trial


class TrialGuide:
    """`ways` are the two passages, their titles the names that the player reads."""

    def __init__(
        self, trial: Trial, ways: Mapping[Way, Passage], transposition: int, click: ClickStyle
    ) -> None:
        first = trial.next()
        assert first is not None
        self.trial, self._turn = trial, first
        self._ways, self._transposition, self._click = ways, transposition, click

    @property
    def pace(self) -> Pace:
        limits = self.trial.settings
        first_bpm = self.trial.first_bpm
        return Pace(self._turn.tempo_bpm, first_bpm, first_bpm * limits.fastest_factor)

    @property
    def reason(self) -> str:
        return self.trial.stopped

    def exercise(self) -> Exercise:
        turn = self._turn
        return Exercise(self._ways[turn.way], turn.tempo_bpm, self._transposition, self._click)

    def after(self, report: Report | None) -> None:
        if report is None:
            return
        kinds = [v.kind for v in report.verdicts]
        counted = len(kinds) - kinds.count("unsure")
        self.trial = self.trial.after(
            self._turn, kinds.count("clean"), counted, report.spread_ms, _lag_ms(report)
        )
        self._turn = self.trial.next() or self._turn

    def step(self, direction: int) -> None:
        """Both ways are played at one tempo, which the trial chooses: it stays."""

    def again(self) -> None:
        """The toss says whose turn it is."""


def _lag_ms(report: Report) -> float | None:
    """The usual distance between tongue and valves in the take."""
    lags = [
        abs(v.attack.lag_frames) * 1000 / report.rate
        for v in report.verdicts
        if v.attack is not None and v.attack.lag_frames is not None
    ]
    return median(lags) if lags else None
