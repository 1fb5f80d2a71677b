"""MIDI out: the click as notes, and the MIDI clock.

From the MIDI 1.0 specification: 24 timing clocks (0xF8) a quarter note, start 0xFA, stop 0xFC;
control 123 all notes off.
From General MIDI level 1: channel 10 is percussion, note 76 the high and 77 the low wood block.
"""

from __future__ import annotations

import contextlib
import threading
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Self

from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.ports.around import TimedAround, TimedPort
from coach.ports.clock import now_s, wait
from coach.ports.midi import NOTE_OFF, NOTE_ON, MidiLink

CLOCKS_A_QUARTER = 24
CLOCK, START, STOP = 0xF8, 0xFA, 0xFC
CONTROL, ALL_NOTES_OFF = 0xB0, 123
PERCUSSION = 9
HIGH_BLOCK, LOW_BLOCK = 76, 77
VELOCITIES = {"bar": 112, "beat": 96, "part": 64}
NOTE_S = 0.05
# Who waits for a change wakes up to a 64th of a second late on Windows, where a sleep is exact.
COARSE_S, DOZE_S = 0.02, 0.002

Timed = tuple[int, tuple[int, ...]]


def click_notes(plan: Plan) -> list[Timed]:
    """(frame, message) of a percussion note for each click of the plan."""
    made: list[Timed] = []
    for click in plan.clicks:
        key = HIGH_BLOCK if click.kind == "bar" else LOW_BLOCK
        made.append((click.frame, (NOTE_ON | PERCUSSION, key, VELOCITIES[click.kind])))
        off_frame = click.frame + round(NOTE_S * plan.rate)
        made.append((off_frame, (NOTE_OFF | PERCUSSION, key, 0)))
    return made


def clock_messages(plan: Plan) -> list[Timed]:
    """(frame, message) of start, the clocks from the first count-in click to the end, and stop.

    Each clock is rounded once from the start, so they do not drift.
    """
    exercise = plan.exercise
    bpm = Fraction(str(round(exercise.tempo_bpm, 3)))
    quarter = Fraction(60 * plan.rate) / bpm / exercise.passage.pulse_beats
    step = quarter / CLOCKS_A_QUARTER
    count = int((plan.end_frame - plan.start_frame) / step)
    clocks = [(plan.start_frame + round(k * step), (CLOCK,)) for k in range(count)]
    return [(plan.start_frame, (START,)), *clocks, (plan.end_frame, (STOP,))]


class Sender:
    """A thread that sends timed messages; `send` must be quick, and is called there alone."""

    def __init__(self, send: Callable[[tuple[int, ...]], None]) -> None:
        self._send = send
        self._changed = threading.Condition()
        self._due: list[Timed] = []
        self._time_at: Callable[[float], float] = float
        self._after: tuple[tuple[int, ...], ...] = ()
        self._closed = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def schedule(
        self,
        messages: Iterable[Timed],
        time_at: Callable[[float], float],
        after: tuple[tuple[int, ...], ...] = (),
    ) -> None:
        """Send each message at its frame in place of what was scheduled before, late ones at once;
        send `after` should they be dropped before the last one went out."""
        with self._changed:
            self._drop()
            self._due = sorted(messages, key=lambda timed: timed[0])[::-1]
            self._time_at, self._after = time_at, after
            self._changed.notify()

    def add(self, messages: Iterable[Timed]) -> None:
        """Send these as well as what is scheduled, late ones at once."""
        with self._changed:
            due = [*messages, *reversed(self._due)]
            self._due = sorted(due, key=lambda timed: timed[0])[::-1]
            self._changed.notify()

    def close(self) -> None:
        """Drop what is scheduled and end the thread."""
        with self._changed:
            self._drop()
            self._closed = True
            self._changed.notify()
        self._thread.join()

    def _drop(self) -> None:
        if self._due:
            for message in self._after:
                self._send(message)
        self._due = []

    def _run(self) -> None:
        with self._changed:
            while not self._closed:
                left_s = self._send_what_is_due()
                if left_s is not None and left_s <= COARSE_S:
                    self._doze(min(left_s, DOZE_S))
                else:
                    self._changed.wait(None if left_s is None else left_s - COARSE_S)

    def _doze(self, seconds: float) -> None:
        """To the point, while others may change what is due."""
        self._changed.release()
        try:
            wait(seconds)
        finally:
            self._changed.acquire()

    def _send_what_is_due(self) -> float | None:
        """Seconds until the next message; None if there is none."""
        while self._due:
            left_s = self._time_at(self._due[-1][0]) - now_s()
            if left_s > 0:
                return left_s
            self._send(self._due.pop()[1])
        return None


class SendingPort(TimedAround, ABC):
    """A port around another that also sends messages to a MIDI output: while a take runs those of
    `_messages`, and at its end those of `_stopping`."""

    def __init__(self, base: TimedPort, wanted: str | None, midi_api: str) -> None:
        super().__init__(base)
        self._link = MidiLink("output", wanted, midi_api)
        self._sender: Sender | None = None

    def open(self) -> Self:
        """DeviceError if MIDI is not there, or no or several ports fit."""
        self._link.open()
        self._sender = Sender(self._send)
        super().open()
        # Until it was read from, a port knows no time, and what is sent would go out all at once.
        self._base.read()
        return self

    def close(self) -> None:
        if self._sender is not None:
            self._sender.close()
            self._sender = None
            self._silence()
            self._link.close()
        super().close()

    def read(self) -> Chunk:
        """DeviceAwayError while what hangs on the output is unplugged; when it is back it is
        silenced: a note that sounded as it went knows no end."""
        if self._link.look():
            self._silence()
        return super().read()

    def _silence(self) -> None:
        for channel in range(16):
            self._send((CONTROL | channel, ALL_NOTES_OFF, 0))

    def _send(self, message: tuple[int, ...]) -> None:
        # What is lost with a cable that was pulled is noticed by `look`.
        with contextlib.suppress(Exception):
            self._link.client.send_message(message)

    def begin(self, plan: Plan) -> None:
        super().begin(plan)
        if self._sender is not None:
            self._sender.schedule(self._messages(plan), self._base.time_at, self._stopping())

    def end(self) -> None:
        super().end()
        if self._sender is not None:
            self._sender.schedule((), self._base.time_at)

    @abstractmethod
    def _messages(self, plan: Plan) -> list[Timed]: ...

    @abstractmethod
    def _stopping(self) -> tuple[tuple[int, ...], ...]: ...


class MidiOutPort(SendingPort):
    """Sends the click as notes and, if asked, the MIDI clock.

    For MIDI in as well, put the `MidiPort` around this one.
    """

    def __init__(
        self,
        base: TimedPort,
        wanted: str | None = None,
        midi_api: str = "auto",
        *,
        clicks: bool = True,
        clock: bool = False,
    ) -> None:
        super().__init__(base, wanted, midi_api)
        self._clicks, self._clock = clicks, clock

    def _messages(self, plan: Plan) -> list[Timed]:
        messages = click_notes(plan) if self._clicks else []
        return messages + (clock_messages(plan) if self._clock else [])

    def _stopping(self) -> tuple[tuple[int, ...], ...]:
        offs = tuple((NOTE_OFF | PERCUSSION, key, 0) for key in (HIGH_BLOCK, LOW_BLOCK))
        return (*(offs if self._clicks else ()), *(((STOP,),) if self._clock else ()))
