"""Every golden screen by name, drawn as plain text.

`python -m tests.screen.shots` remakes tests/data/screens.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from rich.console import Console, Group, RenderableType

from coach.core.view import View
from coach.screen.page import Lines
from coach.screen.pages import (
    CheckResult,
    DeviceRow,
    check_panel,
    devices_table,
    drills_table,
    summary,
)
from coach.screen.plain import PlainScreen
from coach.screen.rest import rest_body, rest_foot
from coach.screen.strip import playing_lines
from coach.screen.table import report_table
from tests.screen import tuttishots, views

FOLDER = Path(__file__).parent.parent / "data" / "screens"
SIZES = ((80, 24), (120, 40), (60, 20))
HINT = "space go/stop   r again   - slower   + faster   q quit"


def render(picture: RenderableType, width: int, height: int = 40) -> str:
    """What a terminal of this width shows, without colours and trailing blanks."""
    out = io.StringIO()
    Console(file=out, width=width, height=height, color_system=None).print(picture)
    return "".join(f"{row.rstrip()}\n" for row in out.getvalue().rstrip("\n").split("\n"))


def playing(view: View) -> Callable[[int, int], RenderableType]:
    return lambda w, h: Lines(tuple(playing_lines(view, w, h, rules=views.RULES, hint=HINT)))


def rest(view: View) -> Callable[[int, int], RenderableType]:
    def drawn(width: int, height: int) -> RenderableType:
        foot = rest_foot(view, width, HINT)
        return Group(rest_body(view, width, height - len(foot.lines), rules=views.RULES), foot)

    return drawn


def _report(width: int, height: int) -> RenderableType:
    report = views.rest().last
    assert report is not None
    return report_table(report, transposition=-7, fifths=-1, width=width)


@dataclass(frozen=True)
class Listed:
    name: str
    title: str
    about: str
    from_bpm: float = 60.0
    to_bpm: float = 120.0
    problem: str = ""


def _drills(width: int, height: int) -> RenderableType:
    rows = [
        Listed("turns", "Turns over the break", "Four-note turns, slurred and tongued."),
        Listed("ladder", "Ladder [of] thirds", "", 80, 132.5),
        Listed("mine", "", "", problem="mine.toml: from_bpm is missing; add it."),
    ]
    return drills_table(rows)


def _devices(width: int, height: int) -> RenderableType:
    rows = [
        DeviceRow(0, "Desk [USB] interface", "sound", 2, 2, 48000, chosen=True),
        DeviceRow(1, "Built-in", "sound", 1, 0, 44100),
        DeviceRow(0, "Pedal board", "MIDI in"),
    ]
    return devices_table(rows)


def _check(width: int, height: int) -> RenderableType:
    advice = ("The room is loud: move the microphone nearer to the bell.",)
    return check_panel(CheckResult("Desk [USB] interface", -14.2, -41.0, 23.4, advice))


Shot = Callable[[int, int], RenderableType]
SESSION: dict[str, Shot] = {
    "playing": playing(views.playing()),
    "playing-bare-long": playing(views.playing(9, 100, bare=True)),
    "count-in": playing(views.count_in()),
    "rest": rest(views.rest()),
    "rest-long": rest(views.rest(9)),
    "rest-short": rest(views.rest(1, {3: 31.0})),
}
PAGES: dict[str, Shot] = {
    "summary": lambda w, h: summary(views.rest(), reason="6 takes done", width=w),
    "report": _report,
    "drills": _drills,
    "devices": _devices,
    "check": _check,
}


def all_shots() -> dict[str, str]:
    """File name -> picture."""
    found = {
        f"{name}-{w}x{h}": render(shot(w, h), w, h)
        for (name, shot), (w, h) in itertools.product(SESSION.items(), SIZES)
    }
    found |= {f"{name}-80": render(shot(80, 24), 80) for name, shot in PAGES.items()}
    found |= {
        f"{name}-{w}x{h}": render(shot(w, h), w, h)
        for (name, shot), (w, h) in itertools.product(tuttishots.SHOTS.items(), tuttishots.SIZES)
    }
    return found | {"plain": plain_lines()}


def plain_lines() -> str:
    """A count-in, a take in three pictures and its end, on the plain screen."""
    out = io.StringIO()
    view = views.playing()
    with PlainScreen(out) as screen:
        for now in (4, 12, 22):
            _, verdicts = views.judged(views.plan(), now)
            screen.draw(_with(view, verdicts))
        screen.draw(views.rest())
    return out.getvalue()


def _with(view: View, verdicts: tuple) -> View:
    return replace(view, verdicts=verdicts)


def remake() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob("*.txt"):
        old.unlink()
    for name, text in all_shots().items():
        (FOLDER / f"{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    remake()
