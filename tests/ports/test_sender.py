"""Messages go out when they are due, also where waiting for a change is coarse; time is played."""

from __future__ import annotations

import math
from types import SimpleNamespace

from coach.ports import midi_out
from coach.ports.midi_out import Sender

TICK_S = 1 / 64


class Coarse:
    """A condition as on Windows: who waits for it wakes at the system's ticks; and the clock."""

    def __init__(self) -> None:
        self.now_s = 100.003
        self.held = 0

    def __enter__(self) -> None:
        self.acquire()

    def __exit__(self, *_: object) -> None:
        self.release()

    def acquire(self) -> None:
        self.held += 1

    def release(self) -> None:
        self.held -= 1

    def notify(self) -> None:
        pass

    def wait(self, timeout_s: float | None) -> None:
        self.now_s = math.ceil((self.now_s + (timeout_s or 0)) / TICK_S) * TICK_S

    def doze(self, seconds: float) -> None:
        assert not self.held, "nobody could change anything meanwhile"
        self.now_s += seconds


def test_messages_go_out_when_they_are_due_where_waiting_is_coarse(monkeypatch):
    time, sent = Coarse(), []
    threads = SimpleNamespace(
        Condition=lambda: time, Thread=lambda **_: SimpleNamespace(start=lambda: None)
    )
    monkeypatch.setattr(midi_out, "threading", threads)
    monkeypatch.setattr(midi_out, "now_s", lambda: time.now_s)
    monkeypatch.setattr(midi_out, "wait", time.doze)
    due = [100.0, 100.013, 100.514, 100.5141, 101.2345, 104.0]

    def send(message: tuple[int, ...]) -> None:
        sent.append(time.now_s)
        sender._closed = len(sent) == len(due)

    sender = Sender(send)
    sender.schedule([(k, (k,)) for k in range(len(due))], due.__getitem__)
    sender._run()
    late_s = [at - wanted for at, wanted in zip(sent[1:], due[1:], strict=True)]
    assert min(late_s) >= 0
    assert max(late_s) < 1e-6
