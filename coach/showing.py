"""What is shown while a session runs: one view, changed as things happen and drawn now and then."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from coach.core.timeline import Plan
from coach.core.view import Pictures, View
from coach.roles import Screen


class Showing:
    """The `view` as it is now, on a screen."""

    def __init__(self, screen: Screen, view: View) -> None:
        self.view = view
        self._screen, self._pictures = screen, Pictures()

    def change(self, **changes: Any) -> None:
        """To be seen in the next picture."""
        self.view = replace(self.view, **changes)

    def draw(self, **changes: Any) -> None:
        """To be seen at once."""
        self.change(**changes)
        self._screen.draw(self.view)

    def step(self, frame: int, rate: int, **changes: Any) -> None:
        """The input has come to `frame`: draw, if a picture is due; where the player is then
        follows from the plan, unless a phase is given."""
        if not self._pictures.are_due(frame, rate):
            return
        plan = self.view.plan
        if plan is not None and "phase" not in changes:
            changes.update(_whereabouts(plan, frame))
        self.draw(frame=frame, **changes)


def _whereabouts(plan: Plan, frame: int) -> dict[str, Any]:
    """Phase, click and note at a frame of the plan."""
    started = [due.index for due in plan.dues if due.frame <= frame]
    return {
        "phase": "count-in" if frame < plan.downbeat_frame else "playing",
        "pulse": plan.pulse_at(frame),
        "now": started[-1] if started else None,
    }
