"""Several players of one ensemble at once: what each plays, and what all are heard by."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from coach.cli.practice import OpenInput
from coach.cli.seating import SeatWanted
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.timeline import Plan
from coach.core.tutti.ensemble import Ensemble
from coach.seats import Seat, Seats

if TYPE_CHECKING:
    from coach.cli.stage import Stage
    from coach.core.report import Report
    from coach.core.take import Take

Reading = tuple[Drill, Instrument, Ensemble]


@dataclass(frozen=True, slots=True)
class Table:
    """Who plays what: places, and what the score gives each of them."""

    places: Sequence[SeatWanted]
    read: Sequence[Reading]

    def seats(self, stage: Stage) -> Seats:
        """The players with their ears; their parts are silent in the ensemble, as the first
        one's."""
        from coach.files.configs import load_rules

        made = [
            Seat(_name(ensemble), drill.variants[0], player.transposition, _ear(place, stage))
            for place, (drill, player, ensemble) in zip(self.places, self.read, strict=True)
        ]
        own = {ensemble.own for _, _, ensemble in self.read}
        if stage.mix.muted:
            stage.mix = replace(stage.mix, muted=stage.mix.muted | own)
        drill = self.read[0][0]
        by_midi = all(place.kind == "midi" for place in self.places)
        return Seats(made, load_rules(drill.rules), drill.gate, one_scale=by_midi)


def _name(ensemble: Ensemble) -> str:
    return ensemble.voices[ensemble.own].name


def opened_section(
    args: argparse.Namespace,
    stack: contextlib.ExitStack,
    table: Table,
    seats: Seats,
    stage: Stage,
) -> OpenInput:
    """All inputs, the ensemble sounding beside the click."""
    from coach.cli.opening import kept, ready
    from coach.screen.section import make_section_screen

    if any(place.kind != "midi" for place in table.places):
        ready("coach.hear.follow.ear")
    port, controls = _port(args, stack, table.places, seats, stage.around)
    screen = partial(make_section_screen, stage.ensemble, lambda: stage.mix, seats.section)
    found = OpenInput(
        port, seats.ear, controls, mix=stage.command, make_screen=screen, tells=_telling(seats)
    )
    return kept(args, found)


def _telling(seats: Seats) -> Callable[[Take, Report], dict[str, Any]]:
    def told(take: Take, report: Report) -> dict[str, Any]:
        section = seats.section(report, take.plan)
        return {"event": "section", "take": take.number, **section.to_dict()}

    return told


def _ear(place: SeatWanted, stage: Stage) -> Callable[[Plan], Any]:
    from coach.cli.opening import midi_ear, sound_ear

    if place.kind == "midi":
        return midi_ear
    return stage.ear if stage.in_room and place.kind == "mic" else sound_ear


def _port(
    args: argparse.Namespace,
    stack: contextlib.ExitStack,
    places: Sequence[SeatWanted],
    seats: Seats,
    around: Callable[[Any], Any],
) -> tuple[Any, Any]:
    """(port, controls)."""
    from coach.cli.opening import pedal_beside, settings
    from coach.files.configs import load_keys
    from coach.ports.pedal import Pedal
    from coach.ports.section import SectionPort

    if places[0].kind == "player":
        return _simulated(args, seats), None
    sound, pedal = settings(), Pedal(load_keys()["pedal"])
    base = _base(args, stack, places, around)
    port = SectionPort(base, _sources(places, base, sound.midi_api, pedal.take))
    stack.enter_context(contextlib.closing(port))
    port.open()
    beside = pedal_beside(args, sound, pedal, stack)
    return port, beside or pedal


def _base(
    args: argparse.Namespace,
    stack: contextlib.ExitStack,
    places: Sequence[SeatWanted],
    around: Callable[[Any], Any],
) -> Any:
    """The sound card, listening on the channels of those who have a microphone."""
    from coach.cli.opening import device_pair, sending, settings, tell_notice
    from coach.files.calibration import stored_round_trip
    from coach.ports.base import open_sound

    sound = settings()
    channels = tuple(int(place.where) for place in places if place.kind == "mic")
    source = args.device if channels else None
    card = open_sound(sound, source, args.output_device, listens=bool(channels), channels=channels)
    base = stack.enter_context(contextlib.closing(sending(args, sound, around(card))))
    base.open()
    tell_notice(card)
    trip = stored_round_trip(*device_pair(args)) if channels else None
    card.round_trip_frames = round(trip.seconds * card.rate) if trip else 0
    return base


def _sources(places: Sequence[SeatWanted], base: Any, midi_api: str, take: Any) -> list[Any]:
    from coach.ports.midi import MidiInput, MidiNotes
    from coach.ports.section import ChannelSource, MidiSource

    made: list[Any] = []
    channels = 0
    for place in places:
        if place.kind == "mic":
            made.append(ChannelSource(channels))
            channels += 1
        else:
            made.append(MidiSource(MidiNotes(base, MidiInput(place.where, midi_api), take)))
    return made


def _simulated(args: argparse.Namespace, seats: Seats) -> Any:
    """Players who play at once, each another one."""
    from coach.ports.player.port import PlayerPort
    from coach.ports.player.skill import Skill
    from coach.ports.section import ChannelSource, PlayerSource, SectionPort

    seed = 1 if args.seed is None else args.seed
    first, *others = (
        PlayerPort(skill=Skill(), seed=seed + number, realtime=not args.fast and number == 0)
        for number in range(len(seats.seats))
    )
    beside = [
        PlayerSource(port, seat.plan) for port, seat in zip(others, seats.seats[1:], strict=True)
    ]
    return SectionPort(first, [ChannelSource(0), *beside])
