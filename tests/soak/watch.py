"""What a process holds while it runs: memory, open files, threads, out of /proc (Linux only)."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Held:
    """At `at_s` of the wall clock, from the start of the watch."""

    at_s: float
    memory_mb: float
    files: int
    threads: int


def held(pid: int, at_s: float) -> Held | None:
    """What a process holds now; None once it is gone, or where there is no /proc."""
    folder = Path("/proc") / str(pid)
    try:
        lines = (folder / "status").read_text().splitlines()
        fields = dict(line.split(":", 1) for line in lines if ":" in line)
        files = len(list((folder / "fd").iterdir()))
        return Held(at_s, int(fields["VmRSS"].split()[0]) / 1024, files, int(fields["Threads"]))
    except (OSError, KeyError, ValueError):
        return None


def watched(
    process: subprocess.Popen[str], every_s: float, told: Callable[[Held], None]
) -> list[Held]:
    """Looks until the process ends."""
    seen: list[Held] = []
    began = time.monotonic()
    while process.poll() is None:
        now = held(process.pid, time.monotonic() - began)
        if now is not None:
            seen.append(now)
            told(now)
        wait_until = began + every_s * len(seen)
        while process.poll() is None and time.monotonic() < wait_until:
            time.sleep(min(0.2, every_s))
    return seen


def growth(seen: Sequence[Held], settled: float = 0.25) -> str:
    """How memory, files and threads went from when the first quarter was over to the end."""
    late = [one for one in seen if one.at_s >= settled * seen[-1].at_s]
    first, last = late[0], late[-1]
    return (
        f"memory {first.memory_mb:.0f} -> {last.memory_mb:.0f} MB "
        f"(most {max(one.memory_mb for one in seen):.0f}), "
        f"files {first.files} -> {last.files}, threads {first.threads} -> {last.threads}, "
        f"from {first.at_s / 3600:.2f} to {last.at_s / 3600:.2f} h of the wall clock"
    )
