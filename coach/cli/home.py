"""Where the player's own things are kept: $COACH_HOME, or the system's place for such data."""

from __future__ import annotations

import os
from pathlib import Path


def home() -> Path:
    """The folder for the practice book, calibrations and own drills."""
    named = os.environ.get("COACH_HOME")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("evenrun", appauthor=False))
