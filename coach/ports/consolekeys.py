"""The keys of a Windows console, from the C library that comes with Python there.

The terminal library would read letters, and may wait for one as soon as any key goes down, be it
Alt alone on the way to another window; the session would stand still meanwhile.  This never waits.
"""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from importlib import import_module
from typing import Any

# From the documentation of msvcrt and of _getch: keys that are no letters come as one of these and
# a second code, the scan code of the key (of the keyboard of 1981: common practice, no source).
FIRST = "\x00\xe0"
SECOND = {
    "H": "KEY_UP",
    "P": "KEY_DOWN",
    "K": "KEY_LEFT",
    "M": "KEY_RIGHT",
    "G": "KEY_HOME",
    "O": "KEY_END",
    "I": "KEY_PGUP",
    "Q": "KEY_PGDOWN",
    "S": "KEY_DELETE",
}
NAMED = {
    "\r": "KEY_ENTER",
    "\n": "KEY_ENTER",
    "\t": "KEY_TAB",
    "\b": "KEY_BACKSPACE",
    "\x1b": "KEY_ESCAPE",
}
CTRL_C = "\x03"


class Pressed(str):
    """A key as its letter, with its name if it has one; empty: none was pressed."""

    __slots__ = ("name",)
    name: str | None

    def __new__(cls, letter: str = "", name: str | None = None) -> Pressed:
        made = super().__new__(cls, letter)
        made.name = name
        return made


class ConsoleKeys:
    """What `Keys` asks of a terminal."""

    def __init__(self) -> None:
        self._console: Any = import_module("msvcrt")

    def cbreak(self) -> AbstractContextManager[None]:
        """Nothing is to be set: what is read so is neither echoed nor held back."""
        return nullcontext()

    def inkey(self, timeout: float = 0, esc_delay: float = 0) -> Pressed:
        """The next key that was pressed; no other timeout than 0 is meant."""
        if not self._console.kbhit():
            return Pressed()
        letter = self._console.getwch()
        if letter == CTRL_C:
            raise KeyboardInterrupt
        # U+00E0 is a letter, too, and then nothing follows.
        if letter in FIRST and self._console.kbhit():
            code = self._console.getwch()
            return Pressed(letter + code, SECOND.get(code, "KEY_OTHER"))
        return Pressed(letter, NAMED.get(letter))
