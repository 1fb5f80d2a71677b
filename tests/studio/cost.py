"""What a coach in the studio costs while it plays: its share of a core and its memory."""

from __future__ import annotations

import os
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

LOOK_S, PATIENCE_S = 0.02, 120.0
PROC = Path("/proc")


@dataclass(frozen=True, slots=True)
class Cost:
    """What a coach took: its share of a core while the take ran, and its peak memory; None where
    the system does not tell."""

    cpu: float | None
    peak_mb: float | None


class CostWatch:
    """Looks at a coach while it runs: `look` until it ends, or until `seconds` of a take."""

    def __init__(self, coach: subprocess.Popen[str], events: Path) -> None:
        self._coach, self._events = coach, events
        self._peak_mb: float | None = None
        self._first: tuple[float, float | None] | None = None
        self._last: tuple[float, float | None] = (0.0, None)

    def look(self, seconds: float = PATIENCE_S) -> Cost:
        until_s = time.monotonic() + PATIENCE_S
        while self._coach.poll() is None and time.monotonic() < until_s:
            if self._first is not None and time.monotonic() - self._first[0] > seconds:
                break
            self._once()
            time.sleep(LOOK_S)
        assert self._first is not None, "no take began"
        (from_s, before), (to_s, after) = self._first, self._last
        known = before is not None and after is not None
        cpu = (after - before) / (to_s - from_s) if known else None  # type: ignore[operator]
        return Cost(cpu, self._peak_mb)

    def _once(self) -> None:
        now_s, used_s = time.monotonic(), cpu_s(self._coach.pid)
        peak_mb = peak_memory_mb(self._coach.pid)
        self._peak_mb = peak_mb if peak_mb is not None else self._peak_mb
        said = self._events.read_text("utf-8") if self._events.exists() else ""
        if '"take_end"' in said:
            return
        if self._first is None and '"take_start"' in said:
            self._first = (now_s, used_s)
        self._last = (now_s, used_s)


def cpu_s(pid: int) -> float | None:
    """Seconds of user and system time of a process so far, all its threads; None without /proc."""
    try:
        fields = (PROC / str(pid) / "stat").read_text().rpartition(")")[2].split()
    except OSError:
        return None
    # proc(5): utime and stime are fields 14 and 15, the first after the name is field 3.
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def peak_memory_mb(pid: int) -> float | None:
    """The most memory that a process had at once (VmHWM); None without /proc."""
    try:
        lines = (PROC / str(pid) / "status").read_text().splitlines()
    except OSError:
        return None
    kb = [int(line.split()[1]) for line in lines if line.startswith("VmHWM")]
    return kb[0] / 1024 if kb else None
