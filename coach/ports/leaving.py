"""The end of the process, where a sound system may not let go of it."""

from __future__ import annotations

import atexit
import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress

CLOSE_LIMIT_S = 1.0
# What stays open to the end: Python may not let go of it either.
_held: list[object] = []


def leave_open(held: object) -> None:
    """This is not closed, and what PortAudio would do at exit is not done: it might wait for
    ever."""
    _held.append(held)
    handler = _exit_handler()
    if handler is not None:
        atexit.unregister(handler)


def leave(status: int) -> None:
    """End the process here and now if the sound system holds it up; all is kept by then."""
    if _held or not returns(_end_sound):
        for stream in (sys.stdout, sys.stderr):
            with suppress(OSError, ValueError):
                stream.flush()
        os._exit(status)


def returns(action: Callable[[], object]) -> bool:
    """Do this in a thread; whether it came back within a second."""
    worker = threading.Thread(target=action, daemon=True)
    worker.start()
    worker.join(CLOSE_LIMIT_S)
    return not worker.is_alive()


def _end_sound() -> None:
    handler = _exit_handler()
    if handler is not None:
        handler()


def _exit_handler() -> Callable[[], object] | None:
    return getattr(sys.modules.get("sounddevice"), "_exit_handler", None)
