"""The loop: read sound, step the ear and the judge, draw, save, ask the gate for the next tempo.

It decides nothing musical and knows no device: what it needs is declared in `roles`.
Input frames are its only clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from coach.core import events
from coach.core.advice import advice_for
from coach.core.exercise import Drill
from coach.core.guide import DrillGuide
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.take import Take
from coach.core.timeline import Plan, count_in_frames, plan_take
from coach.core.view import TakeLine, View, first_view
from coach.ending import STOPPED, logged_end
from coach.errors import CoachError, DeviceAwayError
from coach.roles import Book, Controls, Ear, Guide, Port, Screen
from coach.showing import Showing
from coach.taking import LostError, Taking, listen_past, playing

# After a loss the player has to get back to the instrument.
BACK_REST_S = 5.0
COMES_BACK = "see that it is plugged in: the session goes on by itself when it is back"
STOOD_STILL = "The computer stood still, and more than two seconds of sound were lost"


@dataclass(frozen=True, slots=True)
class Setup:
    """What to practise and how to judge it; `takes` ends the session after so many (of turns, where
    nothing is judged).  `why` is said first, after a rest of `rest_first_s`."""

    drill: Drill
    rules: Rules
    transposition: int
    takes: int | None = None
    first_take: int = 1
    rest_first_s: float = 0.0
    why: str = ""


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
        guide: Guide | None = None,
    ) -> None:
        self.setup = setup
        self._port, self._make_ear = port, make_ear
        self._controls, self._book, self._log = controls, book, log
        drill = setup.drill
        self._guide = guide or DrillGuide(drill, setup.transposition)
        self._take, self._done = setup.first_take, 0
        self._prior_offset_frames = 0.0
        view = first_view(drill, self._guide.pace, self._take, setup.why)
        self._showing = Showing(screen, view)

    def run(self) -> str:
        """Practise until the goal, the number of takes, the input's end or the player stops it, and
        log the end.

        Returns the reason.  A device that went away is waited for; a DeviceError passes through
        after the end was logged.
        """
        return logged_end(self.play, self._log)

    def play(self) -> str:
        """As `run`, the end not logged and Ctrl-C passed on: for one part of a longer course."""
        left_s = self.setup.rest_first_s
        waits = False
        while True:
            try:
                if self._rest(left_s, paused=waits):
                    return STOPPED
                left_s, waits = self._rest_s(), False
                if not self._one():
                    return "the recording ended"
            except _InterruptedError as stop:
                if stop.command == "quit":
                    return STOPPED
                left_s = 0.0
                waits = stop.command in ("go", "halt")
                self._obey(stop.command)
                continue
            except LostError:
                self._give_up(STOOD_STILL, f"{STOOD_STILL}: take {self._take} comes again.", "rest")
                left_s = self._back_s()
                continue
            except DeviceAwayError as away:
                waits = self.view.phase == "paused"
                self._wait_for(away)
                left_s = self._back_s()
                continue
            if reason := self._over():
                return reason

    @property
    def view(self) -> View:
        return self._showing.view

    @property
    def begun(self) -> bool:
        """Whether anything was played, be it in part."""
        return self.view.phase in ("count-in", "playing") or self._done > 0

    @property
    def next_take(self) -> int:
        return self._take

    def _over(self) -> str:
        """Why the session is over; empty while it goes on."""
        if self._guide.reason:
            return self._guide.reason
        if self.setup.takes is not None and self._done >= self.setup.takes:
            return f"{self._done} takes done" if self._done != 1 else "1 take done"
        return "the recording ended" if self._port.ended else ""

    def _rest_s(self) -> float:
        """The pause between takes at the tempo that comes."""
        return self.setup.drill.rest_beats * 60 / self._guide.pace.tempo_bpm

    def _rest(self, left_s: float, *, paused: bool) -> bool:
        """Wait between takes; True if the player wants to stop."""
        rate = self._port.rate
        left_frames = round(left_s * rate)
        while (paused or left_frames > 0) and not self._port.ended:
            chunk = self._port.read()
            left_frames -= chunk.length_frames - chunk.lost_frames
            for command in self._controls.poll():
                if command == "quit":
                    return True
                paused = command == "halt" or paused != (command == "go")
                left_frames = 0 if command == "go" else left_frames
                self._obey(command)
            phase = "paused" if paused else "rest"
            self._showing.step(
                chunk.end_frame,
                rate,
                phase=phase,
                rest_s=max(0.0, left_frames / rate),
                pace=self._guide.pace,
                next_up=self._guide.exercise().passage.title,
            )
        return False

    def _obey(self, command: str) -> None:
        """Change what comes next."""
        if command in ("slower", "faster"):
            self._guide.step(1 if command == "faster" else -1)
        elif command == "again" and self.view.phase == "rest" and self.view.last is not None:
            self._guide.again()

    def _wait_for(self, away: DeviceAwayError) -> None:
        """Until the device is there again.  DeviceError once it is given up, or the player ends it
        meanwhile."""
        what = f"{away.where}: {away.what}" if away.where else away.what
        self._give_up(what, f"{what}; {COMES_BACK}.", phase="paused")
        self._log(events.device("device_lost", what))
        try:
            while not self._is_back():
                if "quit" in self._controls.poll():
                    raise away
        except KeyboardInterrupt:
            raise away from None
        self._log(events.device("device_back", away.where))
        notice = f"It is back: take {self._take} comes next."
        self._showing.change(phase="rest", notice=notice)

    def _is_back(self) -> bool:
        try:
            self._port.read()
        except DeviceAwayError:
            return False
        return True

    def _give_up(self, why: str, notice: str, phase: str) -> None:
        """The take that ran, if there was one, is neither judged nor counted."""
        if self.view.phase in ("count-in", "playing"):
            self._log(events.take_lost(self._take, why))
        self._showing.draw(phase=phase, plan=None, notice=notice)

    def _back_s(self) -> float:
        """The rest after a loss."""
        return max(BACK_REST_S, self._rest_s())

    def _one(self) -> bool:
        """One take, or one turn that is not judged; False if the input ended before it was over."""
        exercise, rate = self._guide.exercise(), self._port.rate
        first = self._port.earliest_frame()
        plan = plan_take(exercise, rate, first + count_in_frames(exercise, rate))
        self._showing.change(
            phase="count-in",
            plan=plan,
            verdicts=(),
            glimpsed=frozenset(),
            take=self._take,
            pace=self._guide.pace,
            lost_frames=0,
        )
        return self._turn(plan) if exercise.passage.way != "played" else self._one_take(plan)

    def _turn(self, plan: Plan) -> bool:
        """Breathe or buzz in time with the click: nothing is judged."""
        self._log(events.turn("turn_start", plan))
        with playing(self._port, plan):
            if not listen_past(self._port, plan, self._showing, self._check_commands):
                return False
        self._log(events.turn("turn_end", plan))
        self._guide.after(None)
        # Where some variants are judged only those are counted.
        self._done += all(p.way != "played" for p in self.setup.drill.variants)
        self._showing.change(phase="rest", plan=None, pace=self._guide.pace)
        return True

    def _one_take(self, plan: Plan) -> bool:
        """Play, judge and keep one take; False if the input ended before it was over."""
        judge = Judge(
            plan.dues,
            self.setup.rules,
            plan.rate,
            prior_offset_frames=self._prior_offset_frames,
            listen_from_frame=plan.listen_from_frame,
        )
        taking = Taking(
            self._take,
            plan,
            self._port,
            self._make_ear(plan),
            judge,
            self._showing,
            self._log,
            self._check_commands,
        )
        self._log(events.take_start(self._take, plan))
        with playing(self._port, plan):
            whole = taking.listen()
        if whole:
            self._close(taking)
        return whole

    def _check_commands(self) -> None:
        for command in self._controls.poll():
            raise _InterruptedError(command)

    def _close(self, taking: Taking) -> None:
        """Judge the take as a whole, keep it, and ask the guide what comes."""
        plan = taking.plan
        take, report = taking.judged(self.setup.drill.gate)
        notice = self._keep(take, report)
        taking.tell_revised(report)
        self._guide.after(report)
        self._prior_offset_frames = report.offset_ms * plan.rate / 1000
        next_bpm = self._guide.pace.tempo_bpm
        self._log(events.take_end(self._take, report, next_bpm, take.lost_frames, take.clipped))
        self._show_result(report, plan, notice)
        self._take += 1
        self._done += 1

    def _show_result(self, report: Report, plan: Plan, notice: str) -> None:
        tempo_bpm = plan.exercise.tempo_bpm
        line = TakeLine(self._take, tempo_bpm, report.accuracy, report.passed)
        self._showing.draw(
            phase="rest",
            verdicts=report.verdicts,
            path=(*self.view.path, line),
            last=report,
            last_plan=plan,
            advice=advice_for(report, plan.exercise),
            notice=notice,
            pace=self._guide.pace,
            plan=None,
        )

    def _keep(self, take: Take, report: Report) -> str:
        """Put the take in the book; what the player should be told about it."""
        try:
            self._book.append(take, report, self.setup.drill)
        except CoachError as error:
            return str(error)
        return "The microphone was too loud and overloaded: turn it down." if take.clipped else ""
