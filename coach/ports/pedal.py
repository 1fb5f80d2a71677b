"""A MIDI pedal, or chosen MIDI notes, as controls.

Takes the raw messages of the MIDI port (status byte, data bytes).  From the MIDI 1.0 specification:
status 0x8n is note off, 0x9n note on (velocity 0: off), 0xBn control change, n the channel from 0;
a switch controller is off up to 63 and on from 64.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from typing import Any

from coach.errors import CoachError
from coach.ports.keys import check_commands

_NOTE_OFF, _NOTE_ON, _CONTROL = 0x80, 0x90, 0xB0
_SWITCH_ON = 64
_PARTS = ("channel", "controllers", "notes")


class Pedal:
    """Commands from MIDI, by the [pedal] table of configs/keys.toml.

    The port offers every message to `take`, and judges only those that it leaves; `take` may run in
    the port's thread while the loop polls.  Raises CoachError for a table that makes no sense.
    """

    def __init__(self, mapping: Mapping[str, Any], where: str = "keys.toml, [pedal]") -> None:
        for part in mapping:
            if part not in _PARTS:
                raise CoachError(f"{part!r} is unknown here", where, f"use {', '.join(_PARTS)}")
        self._channel = _checked(mapping.get("channel", 0), 16, "channel", where)
        self._controllers = _numbers(mapping.get("controllers", {}), f"{where}, controllers")
        self._notes = _numbers(mapping.get("notes", {}), f"{where}, notes")
        self._down: set[int] = set()
        self._given: deque[str] = deque()

    def take(self, message: Sequence[int]) -> bool:
        """True if the message belongs to the controls (the command is kept for `poll`)."""
        if len(message) < 3 or not self._hears(message[0]):
            return False
        kind, number, value = message[0] & 0xF0, message[1], message[2]
        if kind == _CONTROL and number in self._controllers:
            self._move(number, value >= _SWITCH_ON)
            return True
        if kind in (_NOTE_ON, _NOTE_OFF) and number in self._notes:
            if kind == _NOTE_ON and value > 0:
                self._given.append(self._notes[number])
            return True
        return False

    def poll(self) -> list[str]:
        """Commands given since the last call."""
        return [self._given.popleft() for _ in range(len(self._given))]

    def _hears(self, status: int) -> bool:
        return self._channel == 0 or (status & 0x0F) + 1 == self._channel

    def _move(self, controller: int, down: bool) -> None:
        """A command on the way down only: pedals that send every value give it once."""
        if not down:
            self._down.discard(controller)
        elif controller not in self._down:
            self._down.add(controller)
            self._given.append(self._controllers[controller])


def _numbers(mapping: Mapping[str, Any], where: str) -> dict[int, str]:
    """Number -> command."""
    check_commands(mapping, where)
    found: dict[int, str] = {}
    for command, numbers in mapping.items():
        for number in numbers:
            checked = _checked(number, 127, command, where)
            if checked in found:
                what = f"{checked} stands under {found[checked]} and {command}"
                raise CoachError(what, where, "keep one")
            found[checked] = command
    return found


def _checked(number: object, highest: int, name: str, where: str) -> int:
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number <= highest:
        hint = f"use a whole number from 0 to {highest}"
        raise CoachError(f"{name} has {number!r}", where, hint)
    return number
