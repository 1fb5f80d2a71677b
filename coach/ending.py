"""How a session ends: the reason is told in the log, however it came about."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coach.errors import DeviceError

STOPPED = "stopped by the player"


def logged_end(play: Callable[[], str], log: Callable[[dict[str, Any]], None]) -> str:
    """Play, and log why it ended, however it does.  Ctrl-C is an end like others; a DeviceError
    passes through."""
    reason = "stopped"
    try:
        reason = play()
    except KeyboardInterrupt:
        reason = STOPPED
    except DeviceError as error:
        reason = str(error)
        raise
    finally:
        log({"event": "session_end", "reason": reason})
    return reason
