"""A mistake put into a configuration file, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from coach.errors import FileError


def said_of(read: Callable[[Path], object], folder: Path, text: str, old: str, new: str) -> str:
    """What `read` says of `text` with `old` replaced by `new`."""
    assert old in text
    path = folder / "wrong.toml"
    path.write_text(text.replace(old, new), "utf-8")
    with pytest.raises(FileError) as caught:
        read(path)
    return str(caught.value)
