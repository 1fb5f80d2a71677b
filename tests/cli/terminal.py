"""A terminal of our own with the coach in it, as a shell would run it: in the foreground, stopped
by Ctrl-Z, going on after `fg`."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
PATIENCE_S = 30.0
LOCAL_FLAGS = 3

# The shell: it tells the number of its job, "stopped" and "ended STATUS", lets a stopped job go on
# when it reads something, and tells its job when the terminal is closed.
SHELL = """
import fcntl, os, signal, sys, termios
tells, hears = int(sys.argv[1]), int(sys.argv[2])
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
signal.signal(signal.SIGTTOU, signal.SIG_IGN)
job = os.fork()
if job == 0:
    os.setpgid(0, 0)
    os.tcsetpgrp(0, os.getpid())
    signal.signal(signal.SIGTTOU, signal.SIG_DFL)
    os.close(tells)
    os.close(hears)
    os.execv(sys.executable, [sys.executable, *sys.argv[3:]])
signal.signal(signal.SIGHUP, lambda number, frame: os.kill(job, number))
os.write(tells, b"%d\\n" % job)
while True:
    _, status = os.waitpid(job, os.WUNTRACED)
    if not os.WIFSTOPPED(status):
        break
    os.tcsetpgrp(0, os.getpid())
    os.write(tells, b"stopped\\n")
    os.read(hears, 1)
    os.tcsetpgrp(0, job)
    os.kill(job, signal.SIGCONT)
os.write(tells, b"ended %d\\n" % os.waitstatus_to_exitcode(status))
"""


class Terminal:
    """`output` is all that was written to it, `job` the process in it."""

    def __init__(self, *command: object, width: int = 80, height: int = 24, **env: str) -> None:
        self._ours, self._theirs = pty.openpty()
        self.resize(width, height)
        self.modes_before = self.modes
        self._told, tells = os.pipe()
        hears, self._tell = os.pipe()
        self._shell = subprocess.Popen(
            [sys.executable, "-c", SHELL, str(tells), str(hears), *map(str, command)],
            stdin=self._theirs,
            stdout=self._theirs,
            stderr=self._theirs,
            pass_fds=(tells, hears),
            start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT), **env},
        )
        os.close(tells)
        os.close(hears)
        self.output = ""
        self.job = int(self.told())

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        for one in (self.job, self._shell.pid):
            with contextlib.suppress(ProcessLookupError):
                os.kill(one, signal.SIGKILL)
        self._shell.wait()
        for handle in (self._ours, self._theirs, self._told, self._tell):
            with contextlib.suppress(OSError):
                os.close(handle)

    def until(self, words: str, after: int = 0) -> int:
        """Read until this was written, beyond a place of `output`; the place behind it."""
        while words not in self.output[after:]:
            ready, _, _ = select.select([self._ours], [], [], PATIENCE_S)
            assert ready, f"no {words!r} in {self.output[after:]!r}"
            self.output += os.read(self._ours, 65536).decode(errors="replace")
        return self.output.index(words, after) + len(words)

    def told(self) -> str:
        """The next line of the shell; what the coach writes meanwhile is read."""
        line = b""
        while not line.endswith(b"\n"):
            ready, _, _ = select.select([self._told, self._ours], [], [], PATIENCE_S)
            assert ready, f"nothing told after {line!r}; {self.output!r}"
            if self._told in ready:
                line += os.read(self._told, 1)
            else:
                self.output += os.read(self._ours, 65536).decode(errors="replace")
        return line.decode().strip()

    def type(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def go_on(self) -> None:
        """`fg`, once it has stopped."""
        os.write(self._tell, b"\n")

    def resize(self, width: int, height: int) -> None:
        """The kernel tells those in the foreground (SIGWINCH)."""
        fcntl.ioctl(self._ours, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))

    def hang_up(self) -> None:
        """The window is closed."""
        os.close(self._theirs)
        os.close(self._ours)
        self._ours = self._told

    @property
    def modes(self) -> Any:
        return termios.tcgetattr(self._theirs)

    @property
    def by_keys(self) -> bool:
        """It is read key by key, without echo."""
        return not self.modes[LOCAL_FLAGS] & (termios.ECHO | termios.ICANON)
