"""Options that several commands share, and how they change a drill."""

from __future__ import annotations

import argparse
import datetime
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from coach.core.gate import RULES
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill

SLOWEST_BPM, FASTEST_BPM = 10.0, 400.0


def add_drill_options(parser: argparse.ArgumentParser) -> None:
    """Tempo, gate, click and screen: each overrides the drill file."""
    tempo = parser.add_argument_group("tempo and gate (default: as the drill says)")
    tempo.add_argument("--from", dest="from_bpm", type=float, metavar="BPM", help="start here")
    tempo.add_argument("--to", dest="to_bpm", type=float, metavar="BPM", help="the goal")
    tempo.add_argument("--threshold", type=float, metavar="SHARE", help="clean notes to pass, 0-1")
    tempo.add_argument("--passes", type=int, metavar="N", help="passes in a row to go up")
    tempo.add_argument("--step", type=float, metavar="PERCENT", help="size of a step")
    tempo.add_argument("--back-after", type=int, metavar="N", help="failures before a step back")
    tempo.add_argument(
        "--pace", metavar="HOW", help=f"how the tempo moves: {', '.join(RULES)} (coach help pace)"
    )
    tempo.add_argument("--rules", help="easy, normal or strict")
    tempo.add_argument("--takes", type=int, metavar="N", help="end the session after N takes")
    tempo.add_argument("--rest", type=int, metavar="BEATS", help="rest between takes")
    click = parser.add_argument_group("click")
    click.add_argument("--click", metavar="SOUND", help="its sound")
    click.add_argument("--click-level", type=float, metavar="DB", help="below full scale, -60 to 0")
    click.add_argument("--subdivision", type=int, metavar="N", help="clicks a beat")
    click.add_argument("--count-in", type=int, metavar="BARS", help="bars before the downbeat")
    click.add_argument("--no-accent", action="store_true", help="the first beat like the others")
    click.add_argument("--off-bars", metavar="ON,OFF", help="e.g. 2,1: silent every third bar")
    add_screen_options(parser)


def add_screen_options(parser: argparse.ArgumentParser) -> None:
    """Where everything is shown."""
    shown = parser.add_argument_group("screen")
    shown.add_argument("--plain", action="store_true", help="lines of text, for pipes")
    shown.add_argument("--events", metavar="FILE", help="also write everything as JSON lines")


def add_input_options(parser: argparse.ArgumentParser) -> None:
    """What to listen to."""
    heard = "mic (default), midi, player (a simulated one), or a recording"
    parser.add_argument("--input", default="mic", metavar="WHAT", help=heard)
    parser.add_argument("--no-sound", action="store_true", help="keep no sound of the takes")
    add_player_options(parser)
    add_device_options(parser)


def add_player_options(parser: argparse.ArgumentParser) -> None:
    """How the simulated player plays."""
    parser.add_argument("--fast", action="store_true", help="the simulated player does not wait")
    parser.add_argument("--seed", type=int, help="a number: the simulated player plays otherwise")


def add_device_options(parser: argparse.ArgumentParser) -> None:
    """Which devices to use; names or numbers as `coach devices` lists them."""
    devices = parser.add_argument_group("devices (a name, a part of it, or a number)")
    devices.add_argument("--device", metavar="NAME", help="microphone, or MIDI instrument")
    devices.add_argument("--output-device", metavar="NAME", help="where the click sounds")
    devices.add_argument("--pedal", metavar="NAME", help="MIDI input with a pedal, beside the mic")
    devices.add_argument("--midi-click", action="store_true", help="click as MIDI notes too")
    devices.add_argument("--midi-clock", action="store_true", help="send the MIDI clock too")
    devices.add_argument("--midi-out", metavar="NAME", help="MIDI output for these")
    devices.add_argument("--silent", action="store_true", help="MIDI input without a sound card")


def changed_drill(drill: Drill, args: argparse.Namespace) -> Drill:
    """The drill with what the command line says; CoachError for a value that can't be."""
    gate = replace(
        drill.gate,
        **_given(
            threshold=within(args.threshold, "--threshold", 0.01, 1),
            passes=within(args.passes, "--passes", 1, 100),
            step_percent=within(args.step, "--step", 0.5, 50),
            back_after=within(args.back_after, "--back-after", 1, 100),
            rule=_rule(args),
        ),
    )
    click = replace(
        drill.click,
        **_given(
            sound=_sound(args.click),
            level_db=within(args.click_level, "--click-level", -60, 0),
            subdivision=within(args.subdivision, "--subdivision", 1, 12),
            count_in_bars=within(args.count_in, "--count-in", 1, 8),
            accent=False if args.no_accent else None,
            off_bars=_off_bars(args.off_bars),
        ),
    )
    from_bpm, to_bpm = tempo_range(drill, args.from_bpm, args.to_bpm)
    rest = within(args.rest, "--rest", 0, 1000)
    return replace(
        drill,
        gate=gate,
        click=click,
        from_bpm=from_bpm,
        to_bpm=to_bpm,
        rest_beats=drill.rest_beats if rest is None else rest,
        rules=args.rules or drill.rules,
    )


def _rule(args: argparse.Namespace) -> str | None:
    """As asked for; steps, for who sets their size."""
    if args.pace is not None and args.pace not in RULES:
        raise CoachError(f"--pace {args.pace} is unknown", "", f"use {', '.join(RULES)}")
    steps = args.step is not None or args.back_after is not None
    return args.pace or ("steps" if steps else None)


def tempo_range(drill: Drill, low: float | None, high: float | None) -> tuple[float, float]:
    """From and to in clicks a minute; a start given above the drill's own goal moves the goal."""
    low = within(low, "--from", SLOWEST_BPM, FASTEST_BPM)
    high = within(high, "--to", SLOWEST_BPM, FASTEST_BPM)
    if low is not None and high is not None and low > high:
        raise CoachError(f"--from {low:g} is above --to {high:g}", "", "swap them")
    start = low if low is not None else min(drill.from_bpm, high or drill.from_bpm)
    goal = high if high is not None else max(drill.to_bpm, start)
    return start, goal


def _given(**values: Any) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def within(value: Any, name: str, low: float, high: float) -> Any:
    """The value of an option, None if it was not given; CoachError if it can't be."""
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise CoachError(f"{name} {value:g} is out of range", "", f"use {low:g} to {high:g}")
    return value


def day_of(text: str, name: str) -> int:
    """A date as `date.toordinal` counts days; CoachError if it is none."""
    try:
        return datetime.date.fromisoformat(text).toordinal()
    except ValueError:
        hint = "write year-month-day, such as 2027-03-14"
        raise CoachError(f'{name} "{text}" is no date', "", hint) from None


def _sound(name: str | None) -> str | None:
    if name is not None:
        from coach.ports.click import SOUNDS

        if name not in SOUNDS:
            raise CoachError(f"--click {name} is unknown", "", f"use {', '.join(SOUNDS)}")
    return name


def _off_bars(text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    parts = text.split(",")
    if len(parts) != 2 or not all(p.strip().isdigit() and int(p) > 0 for p in parts):
        raise CoachError(f"--off-bars {text} is not two numbers", "", "write e.g. 2,1")
    return int(parts[0]), int(parts[1])
