"""One take of a session: sound to the ear, evidence to the judge, verdicts told as they fall."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from coach.core import events
from coach.core.gate import Gate
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.take import Attack, Chunk, Take, Verdict
from coach.core.timeline import Plan
from coach.roles import Ear, Port
from coach.showing import Showing

LONGEST_HEARING_S = 1.0
# A take in which more sound than this was lost at once is given up.
LOST_LIMIT_S = 2.0


class LostError(Exception):
    """So much sound was lost that the take is given up."""


class Taking:
    """The take `number`, played to `plan`; verdicts go to the log and on the screen as they fall.

    `look` is called after each piece of sound, and may end the take by an exception.
    """

    def __init__(
        self,
        number: int,
        plan: Plan,
        port: Port,
        ear: Ear,
        judge: Judge,
        showing: Showing,
        log: Callable[[dict[str, Any]], None],
        look: Callable[[], None],
    ) -> None:
        self.plan, self.ear, self.judge = plan, ear, judge
        self.lost_frames = 0
        self._number, self._port = number, port
        self._showing, self._log, self._look = showing, log, look
        self._lost_at_once = 0

    def listen(self) -> bool:
        """Feed the ear and the judge until every note is sealed; whether the take is whole.

        LostError where it can't be judged any more.
        """
        follows = False
        while True:
            chunk = self._port.read()
            self._count_lost(chunk)
            evidence = self.ear.feed(chunk)
            follows = evidence.resolved is not None
            self._glimpse(evidence.glimpsed)
            self._tell(self.judge.step(evidence))
            self._showing.step(chunk.end_frame, self._port.rate, lost_frames=self.lost_frames)
            self._look()
            if self._is_over(chunk, waiting=evidence.waiting):
                break
        self._tell(self.judge.step(self.ear.finish()))
        whole = self.judge.finished or not self._port.ended
        if whole:
            self._tell(self.judge.finish(follows=follows))
        return whole

    def judged(self, gate: Gate) -> tuple[Take, Report]:
        """The take as it is kept, and how it came out."""
        judge, plan = self.judge, self.plan
        report = replace(judge.report(), origin_frame=plan.downbeat_frame)
        report = replace(report, passed=gate.passed(report.accuracy))
        follows = any(a.due is not None for a in judge.heard)
        heard = (judge.heard, judge.gaps, follows, self.lost_frames)
        return Take(self._number, plan, *heard, clipped=self.ear.clipped), report

    def tell_revised(self, report: Report) -> None:
        """Verdicts that the whole take changed (its offset, its level) are told once more."""
        live = {v.index: v.kind for v in self._showing.view.verdicts}
        for verdict in report.verdicts:
            if live.get(verdict.index) != verdict.kind:
                event = events.verdict_told(self._number, verdict, self.plan)
                self._log({**event, "revised": True})

    def _count_lost(self, chunk: Chunk) -> None:
        missing = chunk.lost_frames
        self.lost_frames += missing
        goes_on = missing or not chunk.length_frames
        self._lost_at_once = self._lost_at_once + missing if goes_on else 0
        if self._lost_at_once > LOST_LIMIT_S * self.plan.rate:
            raise LostError

    def _is_over(self, chunk: Chunk, *, waiting: bool) -> bool:
        """Whether every note is sealed (and, of others who play too, heard), or will never be."""
        end_frame = self.plan.end_frame
        sealed = self.judge.finished and chunk.end_frame >= end_frame
        limit = end_frame + int(LONGEST_HEARING_S * self.plan.rate)
        return (sealed and not waiting) or chunk.end_frame >= limit or self._port.ended

    def _glimpse(self, seen: Attack | None) -> None:
        """Put a note that begins to show on the screen, before there can be a verdict."""
        if seen is None or seen.due is None:
            return
        position = self._port.position()
        self._log(events.glimpse(self._number, seen, self.plan, position))
        self._showing.change(glimpsed=self._showing.view.glimpsed | {seen.due})

    def _tell(self, verdicts: list[Verdict]) -> None:
        """Log verdicts as they fall, and put them on the screen."""
        position = self._port.position()
        for verdict in verdicts:
            event = events.verdict_told(self._number, verdict, self.plan)
            if verdict.attack is not None:
                delay = (position - verdict.attack.frame) * 1000 / self.plan.rate
                event["decided_after_ms"] = round(max(0.0, delay), 1)
            self._log(event)
        if verdicts:
            self._showing.change(verdicts=(*self._showing.view.verdicts, *verdicts))


def listen_past(port: Port, plan: Plan, showing: Showing, look: Callable[[], None]) -> bool:
    """Let a turn go by in which nothing is judged; whether it came to its end."""
    end_frame = plan.downbeat_frame
    while end_frame < plan.end_frame and not port.ended:
        end_frame = port.read().end_frame
        showing.step(end_frame, plan.rate)
        look()
    return end_frame >= plan.end_frame


@contextlib.contextmanager
def playing(port: Port, plan: Plan) -> Iterator[None]:
    """The clicks of the plan sound, and no garbage is collected: that can stall the loop for tens
    of ms."""
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        port.begin(plan)
        try:
            yield
        finally:
            port.end()
    finally:
        gc.enable()
        gc.unfreeze()
