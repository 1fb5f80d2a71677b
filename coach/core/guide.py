"""What is played next: through a drill's variants in turn, at the tempo its pacer says."""

from __future__ import annotations

from coach.core.exercise import Drill, Exercise
from coach.core.gate import Pace
from coach.core.pace import Pacer, make_pacer
from coach.core.report import Report


class DrillGuide:
    """Guides through one drill.

    `reason` is empty while it goes on, then says why it is over.  What is done with air or
    mouthpiece, and what is taken at another share of the tempo, does not move the metronome.
    """

    def __init__(self, drill: Drill, transposition: int, pacer: Pacer | None = None) -> None:
        self._drill, self._transposition = drill, transposition
        self._pacer = pacer or make_pacer(drill.from_bpm, drill.to_bpm, drill.gate)
        self._variant = 0

    @property
    def pace(self) -> Pace:
        return self._pacer.pace

    @property
    def reason(self) -> str:
        if self.pace.reached:
            return f"reached {self.pace.to_bpm:g} clicks a minute"
        return self._pacer.done

    def exercise(self) -> Exercise:
        """What is to be played now."""
        drill = self._drill
        passage = drill.variants[self._variant % len(drill.variants)]
        tempo_bpm = round(self.pace.tempo_bpm * passage.tempo_share, 1)
        return Exercise(passage, tempo_bpm, self._transposition, drill.click, drill.warp)

    def after(self, report: Report | None) -> None:
        """On, after a take, or after a turn that was not judged."""
        if report is not None and self.exercise().passage.tempo_share == 1:
            kinds = [v.kind for v in report.verdicts]
            self._pacer.after_take(kinds.count("clean"), len(kinds) - kinds.count("unsure"))
        self._variant += 1

    def step(self, direction: int) -> None:
        """The player wants it faster (+1) or slower (-1)."""
        self._pacer.step(direction)

    def again(self) -> None:
        """The player wants the last variant once more."""
        self._variant = max(0, self._variant - 1)
