"""One session on the virtual sound card for an hour or more, a player in another process."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

import numpy as np

from coach.core.exercise import Exercise
from coach.core.timeline import plan_take
from coach.files.drillfile import load_drill
from coach.ports.player.skill import STEADY, Fault, perform
from coach.ports.player.tone import render
from tests.soak.kept import checked
from tests.soak.watch import Held, watched
from tests.studio.conftest import RATE, ROOT, Player, Studio

DRILL, TEMPO_BPM = "one-note-sixteenths", 100
PICKUP_FRAMES = RATE // 2
# No take passes and only a hundred failures in a row take the tempo down: it goes on and on.
STAYS = ("--threshold", "1", "--back-after", "100", "--step", "0.5")


def take_file(path: Path) -> str:
    """A take with one note missing."""
    drill, instrument = load_drill(DRILL)
    exercise = Exercise(drill.variants[0], TEMPO_BPM, instrument.transposition, drill.click)
    plan = plan_take(exercise, RATE, PICKUP_FRAMES)
    played = perform(plan, STEADY, Random(1), script={3: Fault(missing=True)})
    np.save(path, render(played, RATE, 0, plan.end_frame + RATE // 4, seed=1))
    return str(path)


def keep_playing(player: Player, audio: str, until_s: float, counted: list[int]) -> None:
    """Take after take, each in time with its count-in."""
    order = {"do": "take", "count_in": 4, "audio": audio, "downbeat_frame": PICKUP_FRAMES}
    with contextlib.suppress(AssertionError):  # the coach was stopped
        while time.monotonic() < until_s:
            player.send(order)
            player.expect("played")
            counted.append(1)


def an_hour(hours: float, every_s: float, told: Callable[[Held], None]) -> tuple[list[Held], str]:
    """(what the coach held, what came of it)."""
    studio = Studio()
    with tempfile.TemporaryDirectory() as folder, contextlib.closing(studio):
        home, events = Path(folder), Path(folder) / "events.jsonl"
        audio = take_file(home / "take.npy")
        player = studio.player()
        tempo = ("--from", str(TEMPO_BPM), "--to", str(TEMPO_BPM))
        words = ("drill", DRILL, *tempo, *STAYS, "--rest", "4", "--plain")
        with (home / "said").open("w") as said:
            coach = subprocess.Popen(
                [sys.executable, "-m", "coach", *words, "--events", str(events)],
                cwd=ROOT,
                env={**studio.env, "COACH_HOME": folder},
                stdout=said,
                stderr=subprocess.STDOUT,
                text=True,
            )
        until_s = time.monotonic() + hours * 3600
        counted: list[int] = []
        playing = (player, audio, until_s, counted)
        threading.Thread(target=keep_playing, args=playing, daemon=True).start()
        threading.Timer(hours * 3600, coach.terminate).start()
        seen = watched(coach, every_s, told)
        return seen, _result(home, events, coach.returncode, len(counted))


def _result(home: Path, events: Path, status: int, played: int) -> str:
    told = [json.loads(line) for line in events.read_text("utf-8").splitlines()]
    ends = [event for event in told if event["event"] == "take_end"]
    lost = sum(event["lost_frames"] for event in ends)
    accuracy = np.array([event["accuracy"] for event in ends])
    return (
        f"exit status {status}; {len(ends)} takes heard of {played} played, {lost} frames lost; "
        f"clean {100 * accuracy.mean():.1f} % ({100 * accuracy.min():.1f} to "
        f"{100 * accuracy.max():.1f}); {checked(home, len(ends))}"
    )
