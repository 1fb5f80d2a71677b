"""Figures of the live loop: start-up, share of one core, peak memory, frames lost.

    python -m tests.benchmarks.live_loop [SECONDS]

Needs the virtual sound card (see tests/studio); asserts nothing.
"""

from __future__ import annotations

import json
import os
import pty
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from tests.studio.conftest import ROOT, Studio

SIZES = {"80x24": (24, 80), "200x60": (60, 200)}


def start_up(times: int = 9) -> float:
    """Median seconds of `coach --help`."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "coach", "--help"],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            check=True,
        )
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def drain(master: int) -> None:
    try:
        while os.read(master, 1 << 16):
            pass
    except OSError:
        pass


def live(studio: Studio, seconds: float, rows: int, columns: int) -> dict[str, float]:
    """One drill on a terminal of this size: CPU share, peak memory in MB, frames lost, takes."""
    import fcntl
    import struct
    import termios

    with tempfile.TemporaryDirectory() as folder:
        events = Path(folder) / "events.jsonl"
        master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        env = {**studio.env, "TERM": "xterm-256color", "COACH_HOME": folder}
        command = [
            "drill",
            "scales-two-octaves",
            "--from",
            "100",
            "--rest",
            "2",
            "--events",
            str(events),
        ]
        process = subprocess.Popen(
            [sys.executable, "-m", "coach", *command],
            cwd=ROOT, env=env, stdin=slave, stdout=slave, stderr=slave,
        )  # fmt: skip
        threading.Thread(target=drain, args=(master,), daemon=True).start()
        time.sleep(seconds)
        process.terminate()
        _, _, used = os.wait4(process.pid, 0)
        os.close(slave)
        os.close(master)
        told = [json.loads(line) for line in events.read_text().splitlines()]
    ends = [e for e in told if e["event"] == "take_end"]
    return {
        "takes": len(ends),
        "cpu": (used.ru_utime + used.ru_stime) / seconds,
        "peak_mb": used.ru_maxrss / 1024,
        "lost": sum(e["lost_frames"] for e in ends),
    }


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    print(f"coach --help: {start_up():.3f} s (median)")
    studio = Studio()
    try:
        for name, (rows, columns) in SIZES.items():
            got = live(studio, seconds, rows, columns)
            print(
                f"{seconds:.0f} s live on {name}: {100 * got['cpu']:.1f} % of one core,"
                f" peak {got['peak_mb']:.0f} MB, {got['lost']:.0f} frames lost"
                f" in {got['takes']:.0f} takes"
            )
    finally:
        studio.close()


if __name__ == "__main__":
    main()
