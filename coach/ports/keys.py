"""The keyboard as controls: keys to commands, without waiting.

`configs/keys.toml` says which key gives which command.  The terminal is read key by key only when
input and output are a terminal, and it is put back however the block ends.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Mapping
from types import TracebackType
from typing import Any, Protocol, Self

from coach.core.tutti.mixer import COMMANDS as MIX_COMMANDS
from coach.errors import CoachError

COMMANDS = ("go", "again", "slower", "faster", "quit")

# Named keys of the file -> the name the terminal library gives the key.
_NAMED = {
    "enter": "KEY_ENTER",
    "tab": "KEY_TAB",
    "backspace": "KEY_BACKSPACE",
    "delete": "KEY_DELETE",
    "escape": "KEY_ESCAPE",
    "up": "KEY_UP",
    "down": "KEY_DOWN",
    "left": "KEY_LEFT",
    "right": "KEY_RIGHT",
    "home": "KEY_HOME",
    "end": "KEY_END",
    "page-up": "KEY_PGUP",
    "page-down": "KEY_PGDOWN",
}
# An arrow key sends Escape and two more bytes at once, the Escape key sends it alone: wait so long
# for the rest.  Short, because the loop stands still meanwhile.
ESCAPE_WAIT_S = 0.025
KEYS_PER_POLL = 16
_HINT_WORDS = {"go": "go/stop"}


class Source(Protocol):
    """Anything that gives commands."""

    def poll(self) -> list[str]: ...


class Aside:
    """Commands for the mix go to `mix` (nowhere, if there is no mix); the others are given on."""

    def __init__(self, source: Source, mix: Callable[[str], None] | None = None) -> None:
        self._source, self._mix = source, mix

    def poll(self) -> list[str]:
        found = self._source.poll()
        for command in found:
            if command in MIX_COMMANDS and self._mix is not None:
                self._mix(command)
        return [command for command in found if command not in MIX_COMMANDS]


class Together:
    """Several sources of commands as one."""

    def __init__(self, *sources: Source) -> None:
        self._sources = sources

    def poll(self) -> list[str]:
        return [command for source in self._sources for command in source.poll()]


def check_commands(mapping: Mapping[str, Any], where: str) -> None:
    """CoachError unless every key of `mapping` is a command holding a list."""
    if not isinstance(mapping, Mapping):
        raise CoachError(f"{mapping!r} is not a table of commands", where, f"use {_listed()}")
    for command, given in mapping.items():
        if command not in COMMANDS + MIX_COMMANDS:
            raise CoachError(f"{command!r} is not a command", where, f"use {_listed()}")
        if not isinstance(given, list):
            raise CoachError(f"{command} = {given!r} is not a list", where, "write [ ] around it")


def _listed() -> str:
    return f"{', '.join(COMMANDS + MIX_COMMANDS[:-1])} or {MIX_COMMANDS[-1]}"


class Keys:
    """The keyboard, from the [keys] table of configs/keys.toml (command -> list of keys).

    `where` names the file in errors.  Raises CoachError for an unknown command or key, and for a
    key that is given twice.
    """

    def __init__(self, mapping: Mapping[str, Any], where: str = "keys.toml, [keys]") -> None:
        check_commands(mapping, where)
        self._commands: dict[str | None, str] = {}
        for command, keys in mapping.items():
            for key in keys:
                self._add(key, command, where)
        self.hint = _hint(mapping)
        self._terminal: Any = None
        self._stack = contextlib.ExitStack()

    def _add(self, key: object, command: str, where: str) -> None:
        code = _code(key)
        if code is None:
            hint = f"use a single character, space, {', '.join(_NAMED)}"
            raise CoachError(f"{command} has the unknown key {key!r}", where, hint)
        if code in self._commands:
            already = self._commands[code]
            raise CoachError(f"{key!r} stands under {already} and {command}", where, "keep one")
        self._commands[code] = command

    def __enter__(self) -> Self:
        self._terminal = _terminal()
        if self._terminal is not None:
            try:
                self._stack.enter_context(self._terminal.cbreak())
            except _gone():
                self._terminal = None
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._terminal = None
        with contextlib.suppress(*_gone()):
            self._stack.close()

    def poll(self) -> list[str]:
        """Commands given since the last call; never waits longer than `ESCAPE_WAIT_S` a key."""
        found: list[str] = []
        while self._terminal is not None and len(found) < KEYS_PER_POLL:
            try:
                key = self._terminal.inkey(timeout=0, esc_delay=ESCAPE_WAIT_S)
            except _gone():  # play on without keys
                self._terminal = None
                break
            if not key:
                break
            command = self._commands.get(key.name) or self._commands.get(str(key).lower())
            if command is not None:
                found.append(command)
        return found


def _code(key: object) -> str | None:
    """What the terminal library will call the key; None if there is no such key."""
    if not isinstance(key, str):
        return None
    if key == "space":
        return " "
    if key in _NAMED:
        return _NAMED[key]
    return key.lower() if len(key) == 1 and key.isprintable() else None


def _hint(mapping: Mapping[str, Any]) -> str:
    """The first key of every command, in one line."""
    pairs = [(keys[0], _HINT_WORDS.get(c, c)) for c, keys in mapping.items() if keys]
    return "   ".join(f"{key} {word}" for key, word in pairs)


def _terminal() -> Any:
    """The terminal to read keys from, or None when there is none."""
    out = next((s for s in (sys.__stdout__, sys.__stderr__) if s is not None and s.isatty()), None)
    if out is None or sys.__stdin__ is None or not sys.__stdin__.isatty():
        return None
    if sys.platform == "win32":
        from coach.ports.consolekeys import ConsoleKeys

        return ConsoleKeys()
    import blessed

    # No styling: the library then asks the terminal nothing, and keys are all we want.
    return blessed.Terminal(stream=out, force_styling=None)


def _gone() -> tuple[type[Exception], ...]:
    """What comes of a terminal that was closed."""
    try:
        import termios
    except ImportError:
        return (EOFError, OSError)
    return (EOFError, OSError, termios.error)
