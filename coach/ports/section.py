"""Several players on one axis: each has a seat, a channel of the sound card or a MIDI input.

The chunk of the first seat carries those of the others beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.ports.around import Around, Listening
from coach.ports.midi import MidiNotes


class Source(Protocol):
    """Where one seat is heard."""

    def open(self) -> None: ...
    def close(self) -> None: ...
    def begin(self, plan: Plan) -> None: ...
    def chunk(self, heard: Chunk) -> Chunk:
        """What came from this seat by the time `heard` came from the sound card."""
        ...


class ChannelSource:
    """A microphone: the `number`th of the channels that the sound port listens to, from 0."""

    def __init__(self, number: int) -> None:
        self._number = number

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def begin(self, plan: Plan) -> None:
        pass

    def chunk(self, heard: Chunk) -> Chunk:
        one = heard.beside[self._number - 1] if self._number else heard
        return replace(one, beside=())


class MidiSource:
    """A MIDI instrument."""

    def __init__(self, notes: MidiNotes) -> None:
        self._notes = notes

    def open(self) -> None:
        self._notes.open()

    def close(self) -> None:
        self._notes.close()

    def begin(self, plan: Plan) -> None:
        pass

    def chunk(self, heard: Chunk) -> Chunk:
        return self._notes.upto(heard)


class PlayerSource:
    """A simulated player, who plays what `plan_of` makes of the first seat's plan; its blocks are
    as long as those of the first seat."""

    def __init__(self, port: Listening, plan_of: Callable[[Plan], Plan]) -> None:
        self._port, self._plan_of = port, plan_of

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def begin(self, plan: Plan) -> None:
        self._port.begin(self._plan_of(plan))

    def chunk(self, heard: Chunk) -> Chunk:
        return self._port.read()


class SectionPort(Around):
    """A `roles.Port` for the whole section; `base`, opened and closed by who made it,
    sounds and listens for all."""

    def __init__(self, base: Listening, seats: Sequence[Source]) -> None:
        super().__init__(base)
        self._seats = seats

    def open(self) -> None:
        for seat in self._seats:
            seat.open()

    def close(self) -> None:
        for seat in self._seats:
            seat.close()

    def begin(self, plan: Plan) -> None:
        super().begin(plan)
        for seat in self._seats:
            seat.begin(plan)

    def read(self) -> Chunk:
        heard = self._base.read()
        first, *beside = [seat.chunk(heard) for seat in self._seats]
        return replace(first, beside=tuple(beside))
