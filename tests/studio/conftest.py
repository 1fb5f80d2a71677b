"""A studio without hardware: a private sound server on a virtual card, and a player in it.

    def test_something(studio):
        player = studio.player()                       # another process, see player.py
        coach = studio.start("-m", "coach", "drill", ...)   # Popen; its sound card is the studio's
        player.send({"do": "take", ...})
        player.expect("locked")                        # waits for that event; fails when it dies
        assert coach.wait(60) == 0

`studio.env` is the environment for any process that is to use the studio (sound card `system`, MIDI
over the server too).  `studio.round_trip_frames` is what the coach is to subtract for sound that
the player sends in time with what it hears.  `studio.stop_server()` pulls the plug.

The tests are marked `studio`; without jackd they are skipped, but where the variable CI is set they
fail.  One that fails while the machine stood still is tried again (again.py).
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shutil
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.studio.again import pytest_runtest_protocol  # noqa: F401 (pytest looks for it here)

ROOT = Path(__file__).resolve().parents[2]
RATE = 48000
PERIOD = 256
PATIENCE_S = 60.0


class Player:
    """The player process: orders in, events out."""

    def __init__(self, env: dict[str, str], number: int = 1) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.studio.player", str(number)],
            cwd=ROOT,
            env=env,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._events: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._obeyed: queue.SimpleQueue[bool] = queue.SimpleQueue()
        threading.Thread(target=self._listen, daemon=True).start()

    def send(self, order: dict[str, Any]) -> None:
        """Give an order; on return it is obeyed, so that what comes next can't overtake it."""
        self._write(order)
        try:
            assert self._obeyed.get(timeout=PATIENCE_S), f"the player ended before {order}"
        except queue.Empty:
            raise AssertionError(f"the player never obeyed {order}") from None

    def expect(self, event: str, patience_s: float = PATIENCE_S) -> dict[str, Any]:
        """The next event of this kind; those before it are passed over."""
        until = time.monotonic() + patience_s
        while True:
            try:
                told = self._events.get(timeout=max(0.0, until - time.monotonic()))
            except queue.Empty:
                raise AssertionError(f"the player never told of {event!r}") from None
            assert told is not None, f"the player ended before {event!r}"
            if told["event"] == event:
                return told

    def close(self) -> None:
        with contextlib.suppress(OSError, ValueError):  # ended already
            self._write({"do": "quit"})
        _end(self.process)

    def _write(self, order: dict[str, Any]) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(order) + "\n")
        self.process.stdin.flush()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            told = json.loads(line)
            if told["event"] == "obeyed":
                self._obeyed.put(True)
            else:
                self._events.put(told)
        self._events.put(None)
        self._obeyed.put(False)


def _may_be_urgent() -> bool:
    """Whether threads may ask for real-time priority here, as audio threads do on real systems."""
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(10))
    except (OSError, AttributeError):
        return False
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    return True


class Studio:
    """A sound server of our own, ended by its process id."""

    rate = RATE

    def __init__(self, period_frames: int = PERIOD) -> None:
        self.period_frames = period_frames
        # Measured with `test_a_known_delay...`, constant to the frame: the coach and the player
        # hear each other, and in such a loop the server hands sound on a period later, each way.
        self.round_trip_frames = 2 * period_frames
        name = f"studio-{uuid.uuid4().hex[:8]}"
        self.env = {
            **os.environ,
            "JACK_DEFAULT_SERVER": name,
            "JACK_NO_START_SERVER": "1",
            "COACH_MIDI_API": "jack",
            "PYTHONPATH": str(ROOT),
        }
        urgent = ["-R", "-P", "70"] if _may_be_urgent() else ["-r"]
        card = ["-d", "dummy", "-r", str(RATE), "-p", str(period_frames)]
        command = ["jackd", "-n", name, *urgent, *card]
        self.server = subprocess.Popen(
            command, env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        self._processes: list[subprocess.Popen[str]] = []
        self._players: list[Player] = []
        self._wait_for_server()

    def player(self, number: int = 1) -> Player:
        """A player that is ready to take orders; the `number`th plays into that input."""
        player = Player(self.env, number)
        self._players.append(player)
        player.expect("ready")
        return player

    def start(self, *arguments: str, **env: str) -> subprocess.Popen[str]:
        """Start Python with these arguments in the studio; its output is piped."""
        process = subprocess.Popen(
            [sys.executable, *arguments],
            cwd=ROOT,
            env={**self.env, **env},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._processes.append(process)
        return process

    def freeze(self, seconds: float) -> float:
        """Stop the server in its tracks for so long; returns the true time in seconds."""
        since = time.monotonic()
        self.server.send_signal(signal.SIGSTOP)
        time.sleep(seconds)
        self.server.send_signal(signal.SIGCONT)
        return time.monotonic() - since

    def stop_server(self) -> None:
        # Killed outright it would leave its place in the shared registry taken, one of eight.
        self.server.terminate()
        self.server.wait()

    def close(self) -> None:
        for player in self._players:
            player.close()
        for process in self._processes:
            _end(process, at_once=True)
        _end(self.server, at_once=True)

    def _wait_for_server(self) -> None:
        """Up when a client can connect; asked in another process, since ours has no server."""
        check = "import jack; jack.Client('check', no_start_server=True).close()"
        until = time.monotonic() + PATIENCE_S
        while self.server.poll() is None and time.monotonic() < until:
            asked = subprocess.run(
                [sys.executable, "-c", check], env=self.env, capture_output=True, check=False
            )
            if asked.returncode == 0:
                return
        self.close()
        raise AssertionError("the sound server did not start")


def _end(process: subprocess.Popen[str], *, at_once: bool = False) -> None:
    if at_once and process.poll() is None:
        process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    for pipe in (process.stdin, process.stdout, process.stderr):
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()


@pytest.fixture
def studio() -> Iterator[Studio]:
    if shutil.which("jackd") is None:
        pytest.skip("no jackd here (Debian, Ubuntu: apt-get install jackd2 libportaudio2)")
    pytest.importorskip("jack")
    made = Studio()
    try:
        yield made
    finally:
        made.close()
