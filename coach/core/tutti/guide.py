"""What is played next inside the ensemble: the excerpt again, the click less and less."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from coach.core.exercise import ClickStyle, Drill, Exercise
from coach.core.guide import DrillGuide
from coach.core.report import Report

# After each take that passes the click is so much softer; after the last of these steps it is
# silent but for the count-in, and only the ensemble leads.
FADE_DB, FADE_STEPS = 6.0, 4
# So many bars with it, so many without: none with it.
NEVER = (0, 1)


class TuttiGuide(DrillGuide):
    """Guides through one excerpt; without `clicks` there is only the count-in, and with `fades`
    the click goes away step by step.  `weakest` says which report the tempo follows, where several
    play at once (else the one that is given)."""

    def __init__(
        self,
        drill: Drill,
        transposition: int,
        *,
        clicks: bool = True,
        fades: bool = False,
        weakest: Callable[[Report], Report] | None = None,
    ) -> None:
        super().__init__(drill, transposition)
        self._clicks, self._fades, self._weakest = clicks, fades, weakest
        self._passed = 0

    def exercise(self) -> Exercise:
        made = super().exercise()
        return replace(made, click=self._click(made.click))

    def after(self, report: Report | None) -> None:
        if report is not None and self._weakest is not None:
            report = self._weakest(report)
        super().after(report)
        if report is not None and report.passed:
            self._passed += 1

    def _click(self, style: ClickStyle) -> ClickStyle:
        if not self._clicks or (self._fades and self._passed >= FADE_STEPS):
            return replace(style, off_bars=NEVER)
        if not self._fades:
            return style
        return replace(style, level_db=style.level_db - FADE_DB * self._passed)
