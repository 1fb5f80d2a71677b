"""Writing files: what goes wrong is one sentence."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from coach.errors import FileError


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """What is done inside writes `path`; FileError if the system can't."""
    try:
        yield
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise FileError(f"it can't be written ({reason})", str(path)) from None
