"""What the system tells the coach: to end (SIGINT: Ctrl-C; SIGTERM; SIGHUP: its terminal was
closed; SIGBREAK: Ctrl-Break on Windows), and to step aside for a while (SIGTSTP: Ctrl-Z)."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator
from contextlib import AbstractContextManager
from types import FrameType
from typing import Any, Final, Self

# Windows has no SIGHUP, and no SIGTSTP.
_HALT: Final = getattr(signal, "SIGTSTP", 0)
_NAMES: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
_ENDING: Final = [getattr(signal, name, None) for name in _NAMES]
# A second Ctrl-C, or the second SIGHUP of a shell, is meant as the first: what is being put back
# and closed meanwhile must not be left halfway.  A third one means it.
IMPATIENT = 3


@contextlib.contextmanager
def ends_in_order() -> Iterator[None]:
    """Inside the block all that ends the coach does so as KeyboardInterrupt.  What somebody looks
    after already, or ignores (`nohup`), is left as it is; and all outside of the main thread."""
    told = 0

    def stop(number: int, frame: FrameType | None) -> None:
        nonlocal told
        told += 1
        if told == 1 or told >= IMPATIENT:
            raise KeyboardInterrupt

    before: dict[int, object] = {}
    try:
        with contextlib.suppress(ValueError):
            for one in _ENDING:
                if one and signal.getsignal(one) in (signal.SIG_DFL, signal.default_int_handler):
                    before[one] = signal.signal(one, stop)
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)  # type: ignore[arg-type]


class Halts:
    """Ctrl-Z as a source of commands, inside a `with` block.

    When it is asked next, the coach leaves what it uses of the terminal (`used`, in the order in
    which it was entered), stands still until it is told to go on (`fg`), enters it again, and gives
    the command "halt".
    """

    def __init__(self, *used: AbstractContextManager[Any]) -> None:
        self._used = used
        self._asked = self._ours = False

    def __enter__(self) -> Self:
        if _HALT and signal.getsignal(_HALT) == signal.SIG_DFL:
            self._ours = True
            signal.signal(_HALT, self._note)
        return self

    def __exit__(self, *_: object) -> None:
        if self._ours:
            signal.signal(_HALT, signal.SIG_DFL)
            self._ours = False

    def poll(self) -> list[str]:
        if not self._asked:
            return []
        self._asked = False
        for one in reversed(self._used):
            one.__exit__(None, None, None)
        signal.signal(_HALT, signal.SIG_DFL)
        signal.raise_signal(_HALT)
        # Here it stood.
        signal.signal(_HALT, self._note)
        for one in self._used:
            one.__enter__()
        return ["halt"]

    def _note(self, number: int, frame: FrameType | None) -> None:
        self._asked = True
