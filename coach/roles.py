"""What a session needs of others, as protocols: whoever fits may take the part."""

from __future__ import annotations

from typing import Protocol

from coach.core.exercise import Drill, Exercise
from coach.core.gate import Pace
from coach.core.report import Report
from coach.core.take import Chunk, Evidence, Take
from coach.core.timeline import Plan
from coach.core.view import View


class Port(Protocol):
    """Sound or MIDI in, clicks out, on one axis of frames."""

    @property
    def rate(self) -> int: ...

    @property
    def ended(self) -> bool:
        """No more input will come (a recording that ran out)."""
        ...

    def earliest_frame(self) -> int:
        """The first frame at which a click can still be placed."""
        ...

    def position(self) -> int:
        """The frame that is being captured now."""
        ...

    def begin(self, plan: Plan) -> None:
        """Sound the clicks of this plan (none of them before `earliest_frame`)."""
        ...

    def end(self) -> None:
        """Be silent from here on."""
        ...

    def read(self) -> Chunk:
        """What came in since the last call; waits a few hundredths of a second at most."""
        ...


class Ear(Protocol):
    """Input to evidence."""

    @property
    def clipped(self) -> bool: ...

    def feed(self, chunk: Chunk) -> Evidence: ...

    def finish(self) -> Evidence: ...


class Screen(Protocol):
    def draw(self, view: View) -> None: ...


class Controls(Protocol):
    def poll(self) -> list[str]:
        """Commands given since the last call: go, again, slower, faster, quit; halt, where the
        coach stood still meanwhile."""
        ...


class Guide(Protocol):
    """Says what is played next, and when it is over."""

    @property
    def pace(self) -> Pace: ...

    @property
    def reason(self) -> str:
        """Why it is over; empty while it goes on."""
        ...

    def exercise(self) -> Exercise: ...

    def after(self, report: Report | None) -> None:
        """After a take; None after a turn that was not judged."""
        ...

    def step(self, direction: int) -> None:
        """The player wants it faster (+1) or slower (-1)."""
        ...

    def again(self) -> None:
        """The player wants the same once more."""
        ...


class Book(Protocol):
    def append(self, take: Take, report: Report, drill: Drill) -> None: ...
