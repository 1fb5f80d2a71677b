"""A made-up player who lives for a month by what `coach today` says, through the commands.

The clock is the test's.  The player's ceiling at each passage is known (`tests.bed.learners`): a
take has as many slips as it says; the fingers are slow where 1 and 3 change places.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from coach.book import opening, practice
from coach.book.rows import Moment
from coach.cli import main
from coach.cli import opening as inputs
from coach.cli.lately import charted
from coach.cli.practice import OpenInput
from coach.core.fingering.moves import FingerMove, move_between
from coach.core.take import Attack, Chunk, Evidence
from coach.core.timeline import Plan
from coach.files.configs import load_instrument
from tests.bed.learners import Learner, normal

RATE = 48_000
BLOCK_FRAMES = RATE // 2
FIRST = date(2026, 3, 2)  # a Monday
# By common practice as long at rest as at the lips.
LIPS_SHARE = 0.5


def learner(start_bpm: float, gain: float, notes: int) -> Learner:
    """Who learns by `gain` (log tempo) in some hundreds of takes, and never tires."""
    made = Learner(normal, 100.0, 0.2, 0.01, notes, 0.1, 0.015, 0.0, gain, 70.0, 10**9, 0.0)
    made.point_bpm *= start_bpm / made.ceiling_bpm()
    return made


def crosses(move: FingerMove | None) -> bool:
    """Whether 1 goes up as 3 comes down, or the other way round."""
    return move is not None and any(a in move.ups and b in move.downs for a, b in ("13", "31"))


class Clock:
    """Noon of a day of the month (from 1), a second later at each look."""

    def __init__(self) -> None:
        self.day, self._looks = 1, 0

    @property
    def today(self) -> date:
        return FIRST + timedelta(self.day - 1)

    def now(self, db: Any = None) -> Moment:
        self._looks += 1
        time = timedelta(hours=12, seconds=self._looks % 36_000)
        return Moment(f"{self.today}T{time}.000Z", self.today.toordinal())


class Pupil:
    """A port at which one passage is played, and the ear that hears all of it."""

    rate, ended, clipped = RATE, False, False

    def __init__(self, player: Learner, chance: Random) -> None:
        self._player, self._chance = player, chance
        self._frame = 0
        self._attacks: list[Attack] = []
        self._fingered = charted(load_instrument("double-horn"))
        self.takes = 0

    def earliest_frame(self) -> int:
        return self._frame + RATE // 4

    def position(self) -> int:
        return self._frame

    def begin(self, plan: Plan) -> None:
        self.takes += 1
        clean = self._player.play(plan.exercise.tempo_bpm, self._chance)
        count = len(plan.dues)
        slips = set(self._chance.sample(range(count), count - clean))
        lags = self._lags(plan)
        self._attacks = [
            Attack(
                due.frame + round((8 + self._chance.uniform(-6, 6)) * RATE / 1000),
                due.pitch + 4.0 * (k in slips),
                -20.0,
                rise_frames=480,
                lag_frames=lags[k],
                fine=True,
            )
            for k, due in enumerate(plan.dues)
            if k not in slips or k % 2
        ]

    def end(self) -> None:
        pass

    def read(self) -> Chunk:
        self._frame += BLOCK_FRAMES
        return Chunk(self._frame - BLOCK_FRAMES, BLOCK_FRAMES)

    def feed(self, chunk: Chunk) -> Evidence:
        heard = [a for a in self._attacks if chunk.frame <= a.frame < chunk.end_frame]
        return Evidence(tuple(heard), up_to_frame=chunk.end_frame)

    def finish(self) -> Evidence:
        return Evidence(up_to_frame=self._frame)

    def _lags(self, plan: Plan) -> list[int | None]:
        passage = plan.exercise.passage
        usual = self._fingered(plan.exercise)
        fingers = [n.fingering or usual[k] for k, n in enumerate(passage.notes)]
        moves = [move_between(*pair) for pair in pairwise(fingers)]
        means = [35.0 if crosses(move) else 4.0 for move in moves]
        return [None, *(round(self._chance.gauss(m, 3.0) * RATE / 1000) for m in means)]


@dataclass
class Day:
    """What was planned for one day, and the minutes told before that and afterwards."""

    number: int
    plan: dict[str, Any]
    elsewhere: float = 0.0
    afterwards: float = 0.0


@dataclass
class Month:
    home: Path
    players: dict[str, Learner]
    clock: Clock = field(default_factory=Clock)
    days: dict[int, Day] = field(default_factory=dict)
    takes: int = 0

    def coach(self, *args: object) -> str:
        """One command; what it printed."""
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            status = main(list(map(str, args)))
        assert status == 0, (args, said.getvalue())
        return said.getvalue()

    def asked(self, *args: object) -> dict[str, Any]:
        """One command; what it wrote as data."""
        out = self.home / "out.json"
        self.coach(*args, "--json", out)
        return json.loads(out.read_text())

    def today(self, *args: object, elsewhere: float = 0.0) -> Day:
        if elsewhere:
            self.coach("played", elsewhere, "--what", "rehearsal")
        plan = self.asked("today", "--minutes", 16, *args)
        self.days[self.clock.day] = Day(self.clock.day, plan, elsewhere)
        return self.days[self.clock.day]

    def practise(self, day: Day) -> None:
        """Every block, as long as it is to be."""
        for block in day.plan["blocks"]:
            notes = self.players[block["name"]].notes
            take_s = (notes / 2 + 4) * 60 / block["from_bpm"]
            takes = max(1, int(LIPS_SHARE * 60 * block["minutes"] / take_s))
            self.drill(block["name"], block["from_bpm"], block["aim_bpm"], takes)

    def drill(self, name: str, from_bpm: float, to_bpm: float, takes: int) -> None:
        pupil = Pupil(self.players[name], Random(f"{name} {self.clock.day} {self.takes}"))
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(
                inputs, "opened", lambda args, stack: OpenInput(pupil, lambda plan: pupil)
            )
            tempi = ("--from", round(from_bpm, 1), "--to", round(to_bpm, 1))
            self.coach("drill", name, *tempi, "--takes", takes, "--plain")
        self.takes += pupil.takes


@contextlib.contextmanager
def living(home: Path, players: dict[str, Learner], drills: dict[str, str]) -> Iterator[Month]:
    """A month that has not begun, with these drills in the player's own folder."""
    (home / "drills").mkdir(parents=True)
    for name, text in drills.items():
        (home / "drills" / f"{name}.toml").write_text(text)
    month = Month(home, players)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(home))
        for module in (practice, opening):
            patch.setattr(module, "now", month.clock.now)
        yield month


def notes_of(notes: Callable[[int], str], count: int) -> str:
    return ", ".join(f'"{notes(k)}"' for k in range(count))
