"""A day of practice in one process, on a simulated player: `python -m tests.soak.life HOURS SPEED`.

The player's clock runs SPEED times as fast as the wall's (0: nobody waits for anything).  One long
session comes first, then drills, a passage inside the ensemble and the review, over and over.
COACH_HOME says where the book is.  Prints one JSON object a session.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import cycle
from pathlib import Path
from typing import Any

from coach.cli import main as coach
from coach.ports.player.port import PlayerPort
from tests.cli.test_tutti import write_score

LONG_TAKES = 60


def hurry(speed: float) -> Callable[[], float]:
    """Every simulated player lives so much faster; gives the seconds that they have lived."""
    lived: list[float] = []
    began = time.monotonic()
    ports: list[PlayerPort] = []
    first = PlayerPort.__init__

    def clock() -> float:
        return (time.monotonic() - began) * speed

    def sleep(seconds: float) -> None:
        time.sleep(seconds / speed)

    def init(self: PlayerPort, *args: Any, **more: Any) -> None:
        if ports:
            old = ports.pop()
            lived.append(old._frame / old.rate)
        how = {"clock": clock, "sleep": sleep} if speed else {"realtime": False}
        first(self, *args, **{**more, **how})
        ports.append(self)

    PlayerPort.__init__ = init  # type: ignore[method-assign]
    return lambda: sum(lived) + sum(port._frame / port.rate for port in ports)


def sessions(folder: Path, long_takes: int) -> Iterator[list[str]]:
    """Command lines, without end."""
    score = write_score(folder / "evening.mid")
    heard = ["--input", "player", "--plain"]
    yield ["drill", "scales-two-octaves", "--takes", str(long_takes), *heard]
    tutti = ["tutti", str(score), "--part", "Horn", "--bars", "3-6", "--simple-sound", *heard]
    day = [
        ["drill", "lip-slurs-thumb-side", "--takes", "6", *heard],
        [*tutti, "--takes", "4"],
        ["drill", "chromatic-runs", "--takes", "6", *heard],
        ["review"],
        ["today"],
    ]
    for number, words in enumerate(cycle(day)):
        yield [*words, "--seed", str(number)] if "player" in words else words


def live(hours: float, speed: float, long_takes: int) -> int:
    lived = hurry(speed)
    with tempfile.TemporaryDirectory() as folder:
        events = Path(folder) / "events.jsonl"
        for words in sessions(Path(folder), long_takes):
            said = io.StringIO()
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                events.unlink(missing_ok=True)
                more = ["--events", str(events)] if "player" in words else []
                status = coach([*words, *more])
            told = {"words": words[:2], "status": status, "lived_s": lived(), **_takes(events)}
            if status:
                told["said"] = said.getvalue()[-2000:]
            print(json.dumps(told), flush=True)
            if status:
                return 1
            if lived() >= hours * 3600:
                return 0
    return 0


def _takes(events: Path) -> dict[str, int]:
    """How many takes the session told of, and how many frames were lost in them."""
    lines = events.read_text("utf-8").splitlines() if events.exists() else []
    ends = [event for event in map(json.loads, lines) if event["event"] == "take_end"]
    return {"takes": len(ends), "lost": sum(event["lost_frames"] for event in ends)}


if __name__ == "__main__":
    sys.exit(live(float(sys.argv[1]), float(sys.argv[2]), int((*sys.argv, LONG_TAKES)[3])))
