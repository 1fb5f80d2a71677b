"""One session on the virtual sound card for an hour or more, a player in another process."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from coach.ports.player.skill import Fault
from tests.soak.kept import checked
from tests.soak.watch import Held, watched
from tests.studio.again import Watch
from tests.studio.conftest import ROOT, Player, Studio
from tests.studio.test_drill import PICKUP_FRAMES, plan_at, sound_of, written_drill

TEMPO_BPM = 120
# As home computers are set.  Where others share the processor the card itself loses a block of the
# tests' 256 frames now and then, which no program can make good.
PERIOD_FRAMES = 1024
# Takes pass and fail by turns, and only a hundred in a row would end it or change the tempo, which
# the player keeps: it goes on and on.
STAYS = ("--threshold", "1", "--passes", "100", "--back-after", "100", "--step", "0.5")


def keep_playing(player: Player, sounds: Sequence[str], until_s: float, counted: list[int]) -> None:
    """Take after take, each in time with its count-in, the sounds by turns."""
    order = {"do": "take", "count_in": 4, "downbeat_frame": PICKUP_FRAMES}
    with contextlib.suppress(AssertionError):  # the coach was stopped
        while time.monotonic() < until_s:
            player.send(order | {"audio": sounds[len(counted) % len(sounds)]})
            player.expect("played")
            counted.append(1)


def an_hour(hours: float, every_s: float, told: Callable[[Held], None]) -> tuple[list[Held], str]:
    """(what the coach held, what came of it)."""
    studio = Studio(PERIOD_FRAMES)
    with tempfile.TemporaryDirectory() as folder, contextlib.closing(studio):
        home, events = Path(folder), Path(folder) / "events.jsonl"
        drill = written_drill(home / "two-octaves.toml", "1/8", "normal")
        plan = plan_at(drill, TEMPO_BPM)
        missing = {3: Fault(missing=True)}
        sounds = (
            sound_of(plan, {}, home / "whole.npy", 1),
            sound_of(plan, missing, home / "missing.npy", 1),
        )
        player = studio.player()
        tempo = ("--from", str(TEMPO_BPM), "--to", str(TEMPO_BPM))
        words = ("drill", str(drill), *tempo, *STAYS, "--rest", "4", "--plain")
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
        playing = (player, sounds, until_s, counted)
        threading.Thread(target=keep_playing, args=playing, daemon=True).start()
        # Between two looks: one that fell into its leaving would find a thread more.
        threading.Timer(hours * 3600 + every_s / 2, coach.terminate).start()
        with Watch() as watch:
            seen = watched(coach, every_s, told)
        still = f"; the machine stood still for up to {1000 * watch.longest_s:.0f} ms"
        return seen, _result(home, events, coach.returncode, len(counted)) + still


def _result(home: Path, events: Path, status: int, played: int) -> str:
    told = [json.loads(line) for line in events.read_text("utf-8").splitlines()]
    ends = [event for event in told if event["event"] == "take_end"]
    lost = sum(event["lost_frames"] for event in ends)
    accuracy = np.array([event["accuracy"] for event in ends])
    tempo_bpm = {event["next_tempo_bpm"] for event in ends}
    return (
        f"exit status {status}; {len(ends)} takes heard of {played} played, {lost} frames lost; "
        f"clean {100 * accuracy.mean():.1f} % ({100 * accuracy.min():.1f} to "
        f"{100 * accuracy.max():.1f}) at {min(tempo_bpm):g} to {max(tempo_bpm):g} bpm; "
        f"{checked(home, len(ends))}"
    )
