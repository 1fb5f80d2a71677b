"""`coach tutti` with its ensemble in the microphone: `python -m tests.benchmarks.tutti_studio`.

In the virtual studio (tests/studio), in real time: the command itself, a horn with mistakes in
another process, and what the coach plays out comes back through a room (tests/bed/leaking) at -20,
-10 and 0 dB against the horn.  Two excerpts, an invented one of eight parts and a printed one with
quick notes (where the scores lie beside the checkout).  The round trip is calibrated first, with
`coach check`.

Columns: share of right verdicts of all notes (unsure counts as not right), its standard error over
the seeds, its difference to headphones in points; false alarms (clean notes called anything else),
unsure; lost frames, all takes together; the coach's share of one core while the take runs (user and
system), and its peak memory in MB (where there is /proc).  A take is played again if the player
missed the count-in or a block, or if frames were lost while the machine itself stood still; why is
said at once, how often at the end.

    --seeds N       takes a row (6); a row takes some 21 s a seed
    --rooms A,B     typ (usual), hard
    --only NAME     invented or printed
    --memory        instead: most of a long movement (391 bars, 400 may be asked for), laid out and
                    played for 20 s
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coach.core.score.choose import Choice
from tests.bed.leaking import ROOMS, recorded_notes
from tests.bed.score import verdicts
from tests.bed.sources import SourceNote
from tests.conftest import SHARED
from tests.studio.again import Watch
from tests.studio.conftest import Studio
from tests.studio.cost import PATIENCE_S, Cost, CostWatch
from tests.studio.tutti import (
    Excerpt,
    Heard,
    at_level,
    horn,
    in_time,
    invented,
    printed,
    room,
    start,
    told,
)

LEVELS_DB = (-20.0, -10.0, 0.0)
WAYS = (("uncancelled", ("--headphones",)), ("cancelled", ()))
SCORES = SHARED / "scores" / "orchestra"
PRINTED, PRINTED_CHOICE, PRINTED_BPM = "Brahms_Op.98_3.mxl", Choice("F Horn 1", "228-236"), 120.0
WHOLE, WHOLE_CHOICE, WHOLE_BPM = "Beethoven_Op.55_1.mxl", Choice("Eb Horn 1", "300-690"), 180.0
WHOLE_S, WHOLE_DB = 20.0, -10.0
TRIES = 4
Make = Callable[[int, Path], Excerpt]


@dataclass(frozen=True, slots=True)
class Row:
    heard: Heard
    cost: Cost


@contextmanager
def studio() -> Iterator[Studio]:
    made = Studio()
    try:
        yield made
    finally:
        made.close()


def calibrated(made: Studio, folder: Path) -> Path:
    """A home in which the round trip is known, measured as a player does."""
    player = made.player()
    player.send({"do": "loop", "delay_frames": 0})
    check = made.start("-m", "coach", "check", "--no-playing", COACH_HOME=str(folder))
    _, trouble = check.communicate(timeout=PATIENCE_S)
    player.close()
    assert check.returncode == 0, trouble
    (found,) = json.loads((folder / "calibrations.json").read_text()).values()
    print(f"round trip {1000 * found['seconds']:.2f} ms", flush=True)
    return folder / "calibrations.json"


class Stand:
    """Plays takes, each with a coach and a player of its own."""

    def __init__(self, made: Studio, trip: Path) -> None:
        self._studio, self._trip = made, trip
        self.again = 0

    def take(
        self, make: Make, seed: int, leak: tuple[str, float] | None, options: Sequence[str]
    ) -> Row | None:
        """One take; None if the machine stood still every time."""
        for _ in range(TRIES):
            with tempfile.TemporaryDirectory() as name:
                shutil.copy(self._trip, name)
                row = self._try(make(seed, Path(name)), seed, leak, options, Path(name))
            if row is not None:
                return row
            self.again += 1
        return None

    def _try(
        self,
        excerpt: Excerpt,
        seed: int,
        leak: tuple[str, float] | None,
        options: Sequence[str],
        folder: Path,
    ) -> Row | None:
        rng = np.random.default_rng(1000 + seed)
        heard = horn(rng, excerpt)
        answer = None if leak is None else at_level(excerpt, heard, room(rng, leak[0]), leak[1])
        player = self._studio.player()
        try:
            with Watch() as machine:
                coach, events = start(
                    self._studio, player, excerpt, heard, answer, folder, *options
                )
                cost = CostWatch(coach, events).look()
                _, trouble = coach.communicate(timeout=PATIENCE_S)
            assert coach.returncode == 0, trouble
            assert in_time(player), "the player missed the count-in or a block"
            row = Row(told(excerpt, events), cost)
            lost = row.heard.lost_frames
            assert not (lost and machine.stalls), f"the machine stood still, {lost} frames lost"
            return row
        except AssertionError as error:
            print(f"  again: {error}", file=sys.stderr, flush=True)
            return None
        finally:
            player.close()


def excerpts(notes: list[SourceNote] | None) -> dict[str, Make]:
    """How each excerpt is made of a seed, by name."""
    made: dict[str, Make] = {
        "invented": lambda seed, folder: invented(np.random.default_rng(seed), notes, folder)
    }
    score = SCORES / PRINTED
    if notes and score.is_file():
        made["printed"] = lambda seed, folder: printed(
            np.random.default_rng(seed), notes, score, PRINTED_CHOICE, PRINTED_BPM
        )
    return made


def table(stand: Stand, name: str, make: Make, seeds: int, rooms: Sequence[str]) -> None:
    title = "right      diff  false unsure   lost    cpu   MB"
    print(f"\n{name:24} {title:>60}", flush=True)

    def rows(leak: tuple[str, float] | None, options: Sequence[str]) -> list[Row]:
        played = (stand.take(make, seed, leak, options) for seed in range(seeds))
        return [row for row in played if row is not None]

    plain = rows(None, ("--headphones",))
    headphones = float(np.mean([row.heard.right for row in plain])) if plain else float("nan")
    print(line("headphones", plain, headphones), flush=True)
    for where in rooms:
        for leak_db in LEVELS_DB:
            for way, options in WAYS:
                title = f"{where} {leak_db:+3.0f} dB {way}"
                print(line(title, rows((where, leak_db), options), headphones), flush=True)


def line(name: str, rows: Sequence[Row], headphones: float) -> str:
    if not rows:
        return f"{name:28}  no take came through"
    right = np.array([row.heard.right for row in rows])
    said = verdicts([row.heard.scored for row in rows])
    error = float(np.std(right)) / max(1, len(rows) - 1) ** 0.5
    lost = sum(row.heard.lost_frames for row in rows)
    return (
        f"{name:28} {100 * right.mean():5.1f} ± {100 * error:3.1f} "
        f"{100 * (right.mean() - headphones):+6.1f}  {100 * said.false_alarms:5.1f} "
        f"{100 * said.unsure:6.1f} {lost:6d} {_mean([row.cost.cpu for row in rows], 2)}"
        f" {_most([row.cost.peak_mb for row in rows])}"
    )


def _mean(values: Sequence[float | None], digits: int) -> str:
    known = [value for value in values if value is not None]
    return f"{sum(known) / len(known):6.{digits}f}" if known else "     -"


def _most(values: Sequence[float | None]) -> str:
    known = [value for value in values if value is not None]
    return f"{max(known):4.0f}" if known else "   -"


def memory(made: Studio, trip: Path, notes: list[SourceNote] | None) -> None:
    """Most of a movement laid out, played for some seconds, and stopped."""
    score = SCORES / WHOLE
    if not notes or not score.is_file():
        print("no scores or samples beside the checkout")
        return
    excerpt = printed(
        np.random.default_rng(0), notes, score, WHOLE_CHOICE, WHOLE_BPM, seconds=WHOLE_S
    )
    rng = np.random.default_rng(1000)
    heard = horn(rng, excerpt)
    answer = at_level(excerpt, heard, room(rng, "typ"), WHOLE_DB)
    for way, options in WAYS:
        with tempfile.TemporaryDirectory() as name:
            shutil.copy(trip, name)
            player = made.player()
            coach, events = start(made, player, excerpt, heard, answer, Path(name), *options)
            began_s = time.monotonic()
            watch = CostWatch(coach, events)
            locked = player.expect("locked", PATIENCE_S)
            clicks = locked["clicks"]
            # Told when the last click of the count-in was heard.
            first_s = time.monotonic() - began_s - (clicks[-1] - clicks[0]) / made.rate
            cost = watch.look(WHOLE_S)
            coach.terminate()
            coach.communicate(timeout=PATIENCE_S)
            player.close()
        print(
            f"{score.stem}, {way}: first click after {first_s:.1f} s,"
            f" peak {_most([cost.peak_mb])} MB, cpu {_mean([cost.cpu], 2)}",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description="coach tutti in the studio, with an echo.")
    parser.add_argument("--seeds", type=int, default=6)
    parser.add_argument("--rooms", default="typ", help="typ, hard or typ,hard")
    parser.add_argument("--only", choices=("invented", "printed"))
    parser.add_argument("--memory", action="store_true")
    args = parser.parse_args()
    rooms = [name for name in args.rooms.split(",") if name in ROOMS]
    notes = recorded_notes(SHARED)
    with studio() as made, tempfile.TemporaryDirectory() as folder:
        trip = calibrated(made, Path(folder))
        if args.memory:
            memory(made, trip, notes)
            return
        stand = Stand(made, trip)
        for name, make in excerpts(notes).items():
            if args.only in (None, name):
                table(stand, name, make, args.seeds, rooms)
        print(f"\n{stand.again} takes were played again", flush=True)


if __name__ == "__main__":
    main()
