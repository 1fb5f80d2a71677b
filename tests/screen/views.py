"""Views for the screen tests, made by the core itself: a plan, a judge, attacks with set faults."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from coach.core.advice import advice_for
from coach.core.exercise import Exercise
from coach.core.gate import Gate, Pace, after_take
from coach.core.judge import Judge
from coach.core.passage import Note, Passage
from coach.core.rules import Rules
from coach.core.take import Attack, Evidence
from coach.core.timeline import Plan, frames_from_downbeat, plan_take
from coach.core.view import TakeLine, View

RATE = 48000
DOWNBEAT = 96000
RULES = Rules()
GATE = Gate(threshold=0.9, passes=2)
TITLE = "Turns over the break [even] [/b] [red]"
PATH = tuple(
    TakeLine(n, tempo, share, share >= 0.9)
    for n, tempo, share in (
        (1, 60.0, 0.94), (2, 60.0, 0.97), (3, 62.4, 0.81), (4, 62.4, 0.91), (5, 62.4, 1.0),
    )
)  # fmt: skip

# Written pitches of one bar of semiquavers, in F: sounding a fifth lower.
_BAR = (67, 69, 70, 72, 74, 72, 70, 69, 67, 65, 67, 69, 70, 74, 72, 67)
_FINGERS = {65: "1", 67: "0", 69: "12", 70: "1", 72: "0", 74: "T12"}


def passage(bars: int = 2, *, bare: bool = False) -> Passage:
    """`bars` bars of semiquavers on ta and ka with fingerings (`bare`: without them)."""
    length = Fraction(1, 4)
    notes = tuple(
        Note(
            written - 7,
            k * length,
            length,
            syllable=None if bare else ("ta", "ka")[k % 2],
            fingering=None if bare else _FINGERS[written],
        )
        for k, written in enumerate(_BAR * bars)
    )
    return Passage(notes, "Turns over the break", fifths=-1)


def plan(bars: int = 2, tempo_bpm: float = 64.9, *, bare: bool = False) -> Plan:
    return plan_take(Exercise(passage(bars, bare=bare), tempo_bpm, -7), RATE, DOWNBEAT)


# Note index -> what happens there: ms off, or a word.
FAULTS: dict[int, float | str] = {
    3: 31.0, 6: -28.0, 9: "missed", 13: "wrong", 18: "split", 21: "muffled", 24: 44.0, 27: "lost",
}  # fmt: skip


def attacks(plan: Plan, faults: dict[int, float | str]) -> list[Attack]:
    """An even player, a few ms either way, with the faults put in."""
    made = []
    for due in plan.dues:
        fault = faults.get(due.index, ((due.index * 7) % 11 - 5) * 1.2)
        if fault == "missed":
            continue
        off_ms = fault if isinstance(fault, float) else 2.0
        made.append(
            Attack(
                due.frame + round(off_ms * RATE / 1000),
                due.pitch + (2.0 if fault == "wrong" else 0.03),
                level_db=-32.0 if fault == "muffled" else -18.0,
                rise_frames=700,
                settle_frames=1500 if fault == "split" else 0,
                confidence=0.2 if fault == "lost" else 0.95,
            )
        )
    return made


def judged(plan: Plan, upto: int | None = None, faults: dict[int, float | str] | None = None):
    """A judge that has heard the take, or its first `upto` notes."""
    heard = attacks(plan, FAULTS if faults is None else faults)
    judge = Judge(plan.dues, RULES, RATE)
    limit = plan.end_frame + RATE if upto is None else plan.dues[upto].frame
    now = tuple(a for a in heard if a.frame < limit)
    verdicts = judge.step(Evidence(now, up_to_frame=limit))
    return judge, tuple(verdicts)


def playing(bars: int = 2, now: int = 22, *, bare: bool = False) -> View:
    made = plan(bars, bare=bare)
    _, verdicts = judged(made, now)
    beat = frames_from_downbeat(1, made.exercise.tempo_bpm, RATE)
    pulse = (made.dues[now].frame - DOWNBEAT) // beat
    return View(
        TITLE, "playing", made, pulse, now, verdicts, Pace(64.9, 60, 96, 1), GATE, PATH, 6
    )  # fmt: skip


def count_in(pulse: int = -2) -> View:
    return View(
        TITLE, "count-in", plan(), pulse, None, (), Pace(64.9, 60, 96), GATE, PATH, 6,
        notice="Rest when your lips tire; stop if anything hurts.",
    )  # fmt: skip


def rest(bars: int = 2, faults: dict[int, float | str] | None = None) -> View:
    made = plan(bars)
    judge, _ = judged(made, faults=faults)
    report = judge.report()
    report = replace(report, origin_frame=DOWNBEAT, passed=GATE.passed(report.accuracy))
    path = (*PATH, TakeLine(6, 64.9, report.accuracy, report.passed))
    pace = after_take(Pace(64.9, 60, 96, 1), GATE, report.accuracy)
    return View(
        TITLE, "rest", None, 9, None, report.verdicts, pace, GATE, path, 6,
        report, made, advice_for(report, made.exercise), rest_s=5.2,
    )  # fmt: skip
