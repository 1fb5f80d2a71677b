"""Commands as they are to be typed, with the quotes that the system's own shell wants."""

from __future__ import annotations

import sys


def typed(*words: str) -> str:
    """The words as one line; Windows knows double quotes alone."""
    if sys.platform == "win32":
        from subprocess import list2cmdline as joined
    else:
        from shlex import join as joined
    return joined(words)
