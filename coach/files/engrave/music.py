"""What is to be engraved, what comes back, and the process that does it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from coach.errors import FileError, not_installed

# 390 bars with 523 notes took 7 s on a busy machine of two cores; 2000 notes stay below this.
TIME_LIMIT_S = 90.0
PACKAGES = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, slots=True)
class Voice:
    """One MusicXML text; `underlined` and `overlined` count its first fingerings from 0."""

    xml: str
    underlined: tuple[int, ...] = ()
    overlined: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Music:
    """Voices that are engraved alike: same line breaks and size.

    Lines are `width_mm` wide at most; staves are `staff_mm` high unless texts would run into each
    other.  `small`: one line, as wide as its notes need.
    """

    voices: tuple[Voice, ...]
    width_mm: float
    staff_mm: float
    small: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG text and its size on paper."""

    svg: str
    width_mm: float
    height_mm: float


# Line by line the pictures of all voices.
Lines = tuple[tuple[Picture, ...], ...]


def engraved(
    jobs: Sequence[Music], where: str, time_limit_s: float = TIME_LIMIT_S
) -> tuple[Lines, ...]:
    """The lines of each job; CoachError without verovio, FileError where it gives up on a text, or
    dies of it, or takes longer than `time_limit_s`."""
    needed("verovio")
    answer = _asked(json.dumps([asdict(job) for job in jobs]), where, time_limit_s)
    return tuple(tuple(tuple(Picture(*one) for one in line) for line in job) for job in answer)


def needed(package: str) -> None:
    """CoachError if a package that sheets need is not installed."""
    if find_spec(package) is None:
        raise not_installed("sheets need", package)


def _asked(question: str, where: str, time_limit_s: float) -> Any:
    command = [sys.executable, "-P", "-m", "coach.files.engrave.child"]
    path = os.pathsep.join(filter(None, (str(PACKAGES), os.environ.get("PYTHONPATH"))))
    try:
        done = subprocess.run(
            command,
            input=question.encode(),
            capture_output=True,
            timeout=time_limit_s,
            env={**os.environ, "PYTHONPATH": path},
            check=False,
        )
    except subprocess.TimeoutExpired:
        what = f"engraving it took longer than {time_limit_s:g} s"
        raise FileError(what, where, "take fewer bars") from None
    if done.returncode:
        raise FileError("this can't be engraved", where, "take fewer bars, or --plain-notes")
    return json.loads(done.stdout)
