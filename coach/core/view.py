"""What the screen is to show, as plain data: the session fills it in, the screen draws it."""

from __future__ import annotations

from dataclasses import dataclass

from coach.core.exercise import Drill
from coach.core.gate import Gate, Pace
from coach.core.report import Report
from coach.core.take import Verdict
from coach.core.timeline import Plan

PICTURES_PER_S = 8


class Pictures:
    """When pictures are drawn: at most `PICTURES_PER_S` a second of input."""

    def __init__(self) -> None:
        self._drawn_frame: int | None = None

    def are_due(self, frame: int, rate: int) -> bool:
        """Whether one is to be drawn now that the input has come to `frame`."""
        before = self._drawn_frame
        if before is not None and frame - before < rate / PICTURES_PER_S:
            return False
        self._drawn_frame = frame
        return True


@dataclass(frozen=True, slots=True)
class TakeLine:
    """One take of the tempo path."""

    number: int
    tempo_bpm: float
    accuracy: float
    passed: bool


@dataclass(frozen=True, slots=True)
class View:
    """Everything a picture needs.

    `phase` is "rest" (between takes), "count-in", "playing" or "paused"; `pulse` is the click
    being heard, counted from the downbeat (negative in the count-in); `now` indexes the plan's
    dues.  `advice` is the one sentence about the last take, before the first one about what it is
    for; `next_up` names what is played next.  `level_db` is the input's.  `glimpsed` are the notes
    that begin to show, their verdict still to come; `frame` is where the input is.  `speed` is
    that of a finished take that is played back (1: as it was), None while one is played.
    """

    title: str
    phase: str
    plan: Plan | None
    pulse: int
    now: int | None
    verdicts: tuple[Verdict, ...]
    pace: Pace
    gate: Gate
    path: tuple[TakeLine, ...] = ()
    take: int = 1
    last: Report | None = None
    last_plan: Plan | None = None
    advice: str = ""
    notice: str = ""
    rest_s: float = 0.0
    lost_frames: int = 0
    level_db: float | None = None
    glimpsed: frozenset[int] = frozenset()
    next_up: str = ""
    speed: float | None = None
    frame: int = 0


def first_view(drill: Drill, pace: Pace, take: int, why: str) -> View:
    """Before anything is played; `why` is what it is for."""
    caution = drill.cautions[0] if drill.cautions else ""
    return View(
        drill.title,
        "rest",
        None,
        0,
        None,
        (),
        pace,
        drill.gate,
        take=take,
        advice=why,
        notice=caution,
    )
