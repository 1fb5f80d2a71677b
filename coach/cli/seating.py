"""`--players` and `--seat` of `coach tutti`: who sits where, and what each is heard by."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.cli.options import within
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.score.model import Score

MOST_PLAYERS = 8
KINDS = ("mic", "midi", "player")


@dataclass(frozen=True, slots=True)
class SeatWanted:
    """A part, and where it is heard: `kind` is one of KINDS, `where` the channel of the sound card
    (a number from 1) or the name of a MIDI input."""

    part: str
    kind: str
    where: str = ""


def add_seat_options(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("several players at once")
    group.add_argument(
        "--players", type=int, metavar="N", help="your part and the next ones, each with an input"
    )
    group.add_argument(
        "--seat",
        action="append",
        metavar="PART=INPUT",
        help="one for each player: mic:CHANNEL, midi:NAME or player (a simulated one)",
    )


def seated(args: argparse.Namespace, score: Score) -> list[SeatWanted]:
    """Who plays, the first being who is judged as always; empty for one player alone."""
    seats = [_seat(text) for text in args.seat or ()]
    count = within(args.players, "--players", 1, MOST_PLAYERS) or len(seats)
    if seats and count != len(seats):
        hint = f"give --seat {count} times, or leave --players out"
        raise CoachError(f"{len(seats)} seats for {count} players", "", hint)
    if count < 2:
        if seats:
            raise CoachError("one seat makes no section", "", "give --seat twice or more")
        return []
    places = seats or [
        SeatWanted(part, *_usual(args, number))
        for number, part in enumerate(_parts(args, score, count), 1)
    ]
    return _checked(_heard_by_midi(places))


def _seat(text: str) -> SeatWanted:
    part, found, heard = text.rpartition("=")
    kind, _, where = heard.partition(":")
    if not found or not part.strip() or kind not in KINDS:
        hint = "write PART=mic:CHANNEL, PART=midi:NAME or PART=player"
        raise CoachError(f"--seat {text} is no seat", "", hint)
    if kind == "mic" and not (where.isdecimal() and 1 <= int(where) <= 64):
        raise CoachError(f"--seat {text} names no channel", "", "write mic:1, mic:2 and so on")
    return SeatWanted(part.strip(), kind, where)


def _parts(args: argparse.Namespace, score: Score, count: int) -> list[str]:
    """The part asked for and those printed after it."""
    from coach.core.score.choose import part_of

    own = score.parts.index(part_of(score, args.part))
    if own + count > len(score.parts):
        said = f"there are {len(score.parts) - own} parts from this one on, not {count}"
        raise CoachError(said, score.parts[own].name, "name the parts with --seat")
    return [str(number) for number in range(own + 1, own + count + 1)]


def _usual(args: argparse.Namespace, number: int) -> tuple[str, str]:
    if args.input not in KINDS:
        raise CoachError("several players need --input mic or midi", "", "or name each with --seat")
    return args.input, str(number) if args.input == "mic" else ""


def _heard_by_midi(places: Sequence[SeatWanted]) -> list[SeatWanted]:
    """Those who play by MIDI and named no input get the inputs there are, in their order."""
    from coach.cli.opening import settings
    from coach.ports.devices import list_midi

    unnamed = [place for place in places if place.kind == "midi" and not place.where]
    if not unnamed:
        return list(places)
    names = [device.name for device in list_midi("input", settings().midi_api)]
    free = [name for name in names if name not in {place.where for place in places}]
    if len(free) != len(unnamed):
        known = "; ".join(names) or "none"
        raise CoachError(
            f"{len(unnamed)} players need {len(unnamed)} MIDI inputs, there are {len(free)}",
            "",
            f"name them with --seat PART=midi:NAME (there are: {known})",
        )
    given = iter(free)
    return [replace(place, where=next(given)) if place in unnamed else place for place in places]


def _checked(places: list[SeatWanted]) -> list[SeatWanted]:
    """No two on one input; simulated players only among themselves."""
    inputs = [(place.kind, place.where) for place in places if place.kind != "player"]
    if twice := next((one for one in inputs if inputs.count(one) > 1), None):
        raise CoachError(f"two players sit at {':'.join(twice)}", "", "give each an own input")
    if inputs and len(inputs) < len(places):
        raise CoachError("simulated players have no place beside real ones", "", "use one kind")
    return places
