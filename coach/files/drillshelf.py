"""Drills by name: the shipped ones and the player's own; and what can be played like one."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.score.choose import Choice
from coach.errors import CoachError, FileError
from coach.files.configs import data_folder, own_folder
from coach.files.drillfile import drill_name, read_drill
from coach.files.scorefile import is_score
from coach.files.toml import probably


@dataclass(frozen=True, slots=True)
class DrillRow:
    """One line of the list of drills; `problem` is why it cannot be played, or empty."""

    name: str
    title: str
    about: str
    instrument: str
    variants: int
    from_bpm: float
    to_bpm: float
    own: bool
    problem: str = ""


def load_drill(
    name_or_path: str | os.PathLike[str],
    *,
    instrument: str | None = None,
    choice: Choice | None = None,
) -> tuple[Drill, Instrument]:
    """A drill by name or by the path of its file, for its own or for another instrument; of a
    score, what `choice` says.

    FileError if it is not there or anything in it is wrong.
    """
    if is_score(os.fspath(name_or_path)):
        from coach.files.scoredrill import score_drill

        return score_drill(Path(name_or_path), choice or Choice(), instrument=instrument)
    return read_drill(find_drill(name_or_path), instrument=instrument)


def find_drill(name_or_path: str | os.PathLike[str]) -> Path:
    """The file of a drill: a path, else a name among the user's own and the shipped drills."""
    path = Path(os.fspath(name_or_path))
    if path.suffix.lower() == ".toml" or len(path.parts) != 1:
        return path
    files, name = _drill_files(), drill_name(path.name)
    if name not in files:
        meant = probably(name, files)
        hint = f"did you mean {meant}? See coach drills" if meant else "see coach drills"
        raise FileError(f'there is no drill "{name}"', "", hint)
    return files[name]


def drill_names() -> tuple[str, ...]:
    """All that can be played by name, those with a mistake included."""
    return tuple(sorted(_drill_files()))


def is_drill(name: str) -> bool:
    """Whether that is the name of a drill, or the path of a file that is there to be one."""
    path = Path(name)
    file = path.suffix.lower() == ".toml" or is_score(name)
    return drill_name(name) in _drill_files() or (file and path.is_file())


def list_drills() -> tuple[DrillRow, ...]:
    """Every drill by name, those with a mistake included."""
    return tuple(_row(path) for _, path in sorted(_drill_files().items()))


def _drill_files() -> dict[str, Path]:
    """Name to file; the user's own drill hides a shipped one of the same name."""
    folders = (data_folder("drills"), own_folder() / "drills")
    return {drill_name(path.stem): path for folder in folders for path in folder.glob("*.toml")}


def _row(path: Path) -> DrillRow:
    own = path.parent != data_folder("drills")
    try:
        drill, instrument = read_drill(path)
    except CoachError as error:
        return DrillRow(path.stem, path.stem, "", "", 0, 0.0, 0.0, own, str(error))
    return DrillRow(
        drill.name,
        drill.title,
        drill.about,
        instrument.name,
        len(drill.variants),
        drill.from_bpm,
        drill.to_bpm,
        own,
    )
