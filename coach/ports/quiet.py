"""Libraries in C have no say on the screen."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

STDERR = 2


def quiet_libraries() -> None:
    """From now on only Python writes to the terminal's stderr: what PortAudio, RtMidi and ALSA
    think of a device that fails would stand in the middle of the picture."""
    with suppress(OSError, ValueError, AttributeError):
        if sys.stderr.fileno() == STDERR:
            ours = os.fdopen(os.dup(STDERR), "w", encoding=sys.stderr.encoding, errors="replace")
            ours.reconfigure(line_buffering=True)
            sys.stderr.flush()
            sys.stderr = ours
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, STDERR)
            os.close(nowhere)
