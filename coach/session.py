"""The loop: read sound, step the ear and the judge, draw, save, ask the gate for the next tempo.

It decides nothing musical and knows no device: what it needs is declared below as protocols.
Input frames are its only clock.
"""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Protocol

from coach.core import events
from coach.core import gate as gating
from coach.core.advice import advice_for
from coach.core.exercise import Drill, Exercise
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence, Take, Verdict
from coach.core.timeline import Plan, count_in_frames, frames_from_downbeat, plan_take
from coach.core.view import TakeLine, View
from coach.errors import CoachError, DeviceError

LONGEST_HEARING_S = 1.0
PICTURES_PER_S = 8


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
        """Commands given since the last call: go, again, slower, faster, quit."""
        ...


class Book(Protocol):
    def append(self, take: Take, report: Report, drill: Drill) -> None: ...


@dataclass(frozen=True, slots=True)
class Setup:
    """What to practise and how to judge it; `takes` ends the session after so many."""

    drill: Drill
    rules: Rules
    transposition: int
    takes: int | None = None
    first_take: int = 1


class _InterruptedError(Exception):
    """A command ended the take: it is not judged."""

    def __init__(self, command: str) -> None:
        self.command = command


class Session:
    """One practice session on one drill."""

    def __init__(
        self,
        setup: Setup,
        port: Port,
        make_ear: Callable[[Plan], Ear],
        screen: Screen,
        controls: Controls,
        book: Book,
        log: Callable[[dict[str, Any]], None],
    ) -> None:
        self.setup = setup
        self._port, self._make_ear = port, make_ear
        self._screen, self._controls, self._book, self._log = screen, controls, book, log
        drill = setup.drill
        self._pace = gating.start(drill.from_bpm, drill.to_bpm)
        self._take, self._variant = 1, 0
        self._prior_offset_frames = 0.0
        self._drawn_frame = -(10**9)
        self._view = View(
            drill.title, "rest", None, 0, None, (), self._pace, drill.gate, notice=_caution(drill)
        )

    def run(self) -> str:
        """Practise until the goal, the number of takes, the input's end or the player stops it.

        Returns the reason.  A DeviceError passes through after the end was logged.
        """
        reason = "stopped"
        try:
            reason = self._takes()
        except KeyboardInterrupt:
            reason = "stopped by the player"
        except DeviceError as error:
            reason = str(error)
            raise
        finally:
            self._log({"event": "session_end", "reason": reason})
        return reason

    @property
    def view(self) -> View:
        return self._view

    def _takes(self) -> str:
        done = 0
        waits = False
        while True:
            if self._rest(paused=waits):
                return "stopped by the player"
            waits = False
            try:
                if not self._one_take():
                    return "the recording ended"
                done += 1
            except _InterruptedError as stop:
                if stop.command == "quit":
                    return "stopped by the player"
                waits = stop.command == "go"
                self._obey(stop.command)
                continue
            if self._pace.reached:
                return f"reached {self._pace.to_bpm:g} clicks a minute"
            if self.setup.takes is not None and done >= self.setup.takes:
                return f"{done} takes done" if done != 1 else "1 take done"
            if self._port.ended:
                return "the recording ended"

    def _rest(self, *, paused: bool) -> bool:
        """Wait between takes; True if the player wants to stop."""
        rate = self._port.rate
        beats = self.setup.drill.rest_beats if self._take > self.setup.first_take else 0
        left_frames = frames_from_downbeat(beats, self._pace.tempo_bpm, rate)
        while (paused or left_frames > 0) and not self._port.ended:
            chunk = self._port.read()
            left_frames -= chunk.length_frames
            for command in self._controls.poll():
                if command == "quit":
                    return True
                paused = not paused if command == "go" else paused
                left_frames = 0 if command == "go" else left_frames
                self._obey(command)
            phase = "paused" if paused else "rest"
            self._show(chunk, phase=phase, rest_s=max(0.0, left_frames / rate), pace=self._pace)
        return False

    def _obey(self, command: str) -> None:
        """Change what comes next."""
        if command in ("slower", "faster"):
            direction = 1 if command == "faster" else -1
            self._pace = gating.stepped(self._pace, self.setup.drill.gate, direction)
        elif command == "again" and self._view.phase == "rest" and self._view.last is not None:
            self._variant = max(0, self._variant - 1)

    def _exercise(self) -> Exercise:
        drill = self.setup.drill
        passage = drill.variants[self._variant % len(drill.variants)]
        return Exercise(passage, self._pace.tempo_bpm, self.setup.transposition, drill.click)

    def _one_take(self) -> bool:
        """Play, judge and keep one take; False if the input ended before it was over."""
        exercise, rate = self._exercise(), self._port.rate
        first = self._port.earliest_frame()
        plan = plan_take(exercise, rate, first + count_in_frames(exercise, rate))
        ear = self._make_ear(plan)
        beat = frames_from_downbeat(1, exercise.tempo_bpm, rate)
        judge = Judge(
            plan.dues,
            self.setup.rules,
            rate,
            prior_offset_frames=self._prior_offset_frames,
            listen_from_frame=plan.downbeat_frame - beat // 2,
        )
        self._log(events.take_start(self._take, plan))
        self._view = replace(
            self._view,
            plan=plan,
            verdicts=(),
            glimpsed=frozenset(),
            take=self._take,
            pace=self._pace,
            lost_frames=0,
        )
        with _steady():
            self._port.begin(plan)
            try:
                lost, whole = self._listen(plan, ear, judge)
            finally:
                self._port.end()
        if whole:
            self._close_take(plan, ear, judge, lost)
        return whole

    def _listen(self, plan: Plan, ear: Ear, judge: Judge) -> tuple[int, bool]:
        """Feed the ear and the judge until every note is sealed; (frames lost, whole take?)."""
        lost = 0
        follows = False
        limit = plan.end_frame + int(LONGEST_HEARING_S * plan.rate)
        while True:
            chunk = self._port.read()
            lost += sum(gap.length_frames for gap in chunk.gaps)
            evidence = ear.feed(chunk)
            follows = evidence.resolved is not None
            self._glimpse(evidence.glimpsed, plan)
            self._tell(judge.step(evidence), plan)
            self._show(chunk, lost_frames=lost)
            self._check_commands()
            over = judge.finished and chunk.end_frame >= plan.end_frame
            if over or chunk.end_frame >= limit or self._port.ended:
                break
        self._tell(judge.step(ear.finish()), plan)
        whole = judge.finished or not self._port.ended
        if whole:
            self._tell(judge.finish(follows=follows), plan)
        return lost, whole

    def _check_commands(self) -> None:
        for command in self._controls.poll():
            raise _InterruptedError(command)

    def _glimpse(self, seen: Attack | None, plan: Plan) -> None:
        """Put a note that begins to show on the screen, before there can be a verdict."""
        if seen is None or seen.due is None:
            return
        self._log(events.glimpse(self._take, seen, plan, self._port.position()))
        self._view = replace(self._view, glimpsed=self._view.glimpsed | {seen.due})

    def _tell(self, verdicts: list[Verdict], plan: Plan) -> None:
        """Log verdicts as they fall, and put them on the screen."""
        position = self._port.position()
        for verdict in verdicts:
            event = events.verdict_told(self._take, verdict, plan)
            if verdict.attack is not None:
                delay = (position - verdict.attack.frame) * 1000 / plan.rate
                event["decided_after_ms"] = round(max(0.0, delay), 1)
            self._log(event)
        if verdicts:
            self._view = replace(self._view, verdicts=(*self._view.verdicts, *verdicts))

    def _close_take(self, plan: Plan, ear: Ear, judge: Judge, lost: int) -> None:
        report = replace(judge.report(), origin_frame=plan.downbeat_frame)
        report = replace(report, passed=self.setup.drill.gate.passed(report.accuracy))
        follows = any(a.due is not None for a in judge.heard)
        take = Take(self._take, plan, judge.heard, judge.gaps, follows, lost, clipped=ear.clipped)
        notice = self._keep(take, report)
        self._tell_revised(report, plan)
        tempo = self._pace.tempo_bpm
        self._pace = gating.after_take(self._pace, self.setup.drill.gate, report.accuracy)
        self._prior_offset_frames = report.offset_ms * plan.rate / 1000
        self._log(events.take_end(self._take, report, self._pace.tempo_bpm, lost, ear.clipped))
        line = TakeLine(self._take, tempo, report.accuracy, report.passed)
        self._view = replace(
            self._view,
            phase="rest",
            verdicts=report.verdicts,
            path=(*self._view.path, line),
            last=report,
            last_plan=plan,
            advice=advice_for(report, plan.exercise),
            notice=notice,
            pace=self._pace,
            plan=None,
        )
        self._screen.draw(self._view)
        self._take += 1
        self._variant += 1

    def _keep(self, take: Take, report: Report) -> str:
        """Put the take in the book; what the player should be told about it."""
        try:
            self._book.append(take, report, self.setup.drill)
        except CoachError as error:
            return str(error)
        return "The microphone was overdriven: turn it down." if take.clipped else ""

    def _tell_revised(self, report: Report, plan: Plan) -> None:
        """Verdicts that the whole take changed (its offset, its level) are told once more."""
        live = {v.index: v.kind for v in self._view.verdicts}
        for verdict in report.verdicts:
            if live.get(verdict.index) != verdict.kind:
                self._log({**events.verdict_told(self._take, verdict, plan), "revised": True})

    def _show(self, chunk: Chunk, **changes: Any) -> None:
        """Draw, at most `PICTURES_PER_S` times a second of input."""
        frame = chunk.end_frame
        if frame - self._drawn_frame < self._port.rate / PICTURES_PER_S:
            return
        self._drawn_frame = frame
        plan = self._view.plan
        if plan is not None and "phase" not in changes:
            changes.update(_whereabouts(plan, frame))
        self._view = replace(self._view, **changes)
        self._screen.draw(self._view)


def _whereabouts(plan: Plan, frame: int) -> dict[str, Any]:
    """Phase, click and note at a frame of the plan."""
    beat = 60 * plan.rate / plan.exercise.tempo_bpm
    started = [due.index for due in plan.dues if due.frame <= frame]
    return {
        "phase": "count-in" if frame < plan.downbeat_frame else "playing",
        "pulse": int((frame - plan.downbeat_frame) // beat),
        "now": started[-1] if started else None,
    }


def _caution(drill: Drill) -> str:
    return drill.cautions[0] if drill.cautions else ""


@contextlib.contextmanager
def _steady() -> Iterator[None]:
    """No garbage collection while playing: a full one can stall the loop for tens of ms."""
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
        gc.unfreeze()
