"""The screens of the ensemble, for the golden pictures."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from random import Random

from rich.console import RenderableType

from coach.core.gate import Gate, Pace, after_take
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.timeline import frame_of
from coach.core.tutti.fit import fit_of
from coach.core.tutti.section import Section, SectionPlayer, section_of
from coach.core.tutti.stand import Stand, stand_at
from coach.core.view import TakeLine, View
from coach.files.configs import load_keys
from coach.ports.keys import Keys
from coach.screen.page import Lines
from coach.screen.score import score_of
from coach.screen.tutti import MixLine, conductor_lines, fit_body, section_body
from coach.screen.words import outcome_line
from tests.core.tutti.simulated import ensemble_of, noise, notes_of, plan_of, take, voice

SIZES = ((80, 24), (200, 60), (40, 20))
TOLD = load_keys()
# Every key of a take with a mixer, as the session tells them.
HINT = Keys({**TOLD["keys"], **TOLD["mixer"]}).hint
RUN = [55, 57, 58, 60, 62, 60, 58, 57]
# Two bars of the run from bar 41 on, two bars of rest, four bars.
PLAN = plan_of(
    [
        *notes_of([p for p in RUN for _ in (0, 1)]),
        *notes_of(RUN * 4, start=Fraction(16)),
    ],
    first_bar=41,
)
SCORE = score_of(PLAN, Rules())
OTHERS = (
    voice("low", notes_of([46, 41] * 8, Fraction(2))),
    voice("fifth", notes_of([65, 65, 62, 69] * 2, Fraction(4))),
)
MIX = (
    MixLine("Horn in F 1 (own part)", muted=True),
    MixLine("Horn in F 2", -3.0, chosen=True),
    MixLine("Trombone", 0.0, solo=True),
    MixLine("Tuba [low]", -6.0),
)


def stand(beats: Fraction | int) -> Stand:
    frame = frame_of(PLAN.exercise, PLAN.rate, PLAN.downbeat_frame, Fraction(beats))
    return stand_at(PLAN, frame)


def conducting(beats: Fraction | int) -> Callable[[int, int], RenderableType]:
    def drawn(width: int, height: int) -> RenderableType:
        rows = conductor_lines(
            stand(beats), SCORE, MIX, width, height, title="Invented [/b]", hint=HINT
        )
        return Lines(tuple(rows))

    return drawn


def rested(report: Report) -> View:
    """The rest after a first take of the plan."""
    tempo_bpm = PLAN.exercise.tempo_bpm
    gate, pace = Gate(threshold=0.9, passes=1), Pace(tempo_bpm, 60, 140)
    path = (TakeLine(1, tempo_bpm, report.accuracy, report.passed),)
    pace = after_take(pace, gate, report.accuracy)
    return View(
        "Invented", "rest", None, 0, None, report.verdicts, pace, gate, path,
        last=report, last_plan=PLAN, advice="Play on.",
    )  # fmt: skip


def _fit(width: int, height: int) -> RenderableType:
    error = noise(Random(4), len(PLAN.dues), 5)

    def off(k: int) -> float:
        return error[k] + (46 if k == 16 else 0) - 2.0 * max(0, k - 24)

    report = take(PLAN, off, cents=lambda k: 4.0 - k % 3)
    found = fit_of(report, PLAN, ensemble_of(PLAN, *OTHERS))
    return fit_body(found, SCORE, width, height, outcome_line(rested(report)))


def _player(name: str, off_ms: float) -> SectionPlayer:
    error = noise(Random(name), len(PLAN.dues), 6)
    return SectionPlayer(name, take(PLAN, lambda k: off_ms + error[k]), PLAN)


def section() -> Section:
    parts = [_player(*one) for one in (("Horn 1", -19), ("Horn 2 [/b]", 3), ("Tuba", 14))]
    return section_of(parts)


def _section(width: int, height: int) -> RenderableType:
    return section_body(section(), width, height)


SHOTS: dict[str, Callable[[int, int], RenderableType]] = {
    "tutti-count-in": conducting(-3),
    "tutti-playing": conducting(Fraction(9, 2)),
    "tutti-rest": conducting(8),
    "tutti-entry": conducting(14),
    "tutti-fit": _fit,
    "tutti-section": _section,
}
