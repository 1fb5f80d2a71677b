"""The data that comes with the coach: rule sets, instruments, keys, sound; and where it lies.

In a checkout drills/ and configs/ lie beside the package; an installed wheel carries them as
coach/data/.  The user's own files lie in $COACH_HOME or in the system's folder for user data.
"""

from __future__ import annotations

import os
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from coach.core.instrument import Instrument
from coach.core.rules import Rules
from coach.errors import FileError
from coach.files.instruments import read_instrument
from coach.files.toml import Table, nearest, probably, read_toml

KEY_TABLES = ("keys", "mixer", "pedal")


def data_folder(name: str) -> Path:
    """The folder "drills" or "configs", in an installed package or in a checkout."""
    package = Path(str(resources.files("coach")))
    for folder in (package / "data" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileError(f"the folder {name} is missing", str(package), "install the coach again")


def own_folder() -> Path:
    """Where the user's own files lie; it may not exist yet."""
    home = os.environ.get("COACH_HOME")
    if home:
        return Path(os.path.expanduser(home))
    from platformdirs import user_data_dir

    return Path(user_data_dir("evenrun", appauthor=False))


def load_keys() -> dict[str, Any]:
    """configs/keys.toml as plain data, its tables `KEY_TABLES`; what the keys mean is checked where
    they are used.  FileError if a table is missing."""
    path = data_folder("configs") / "keys.toml"
    read = read_toml(path)
    for name in KEY_TABLES:
        if not isinstance(read.get(name), dict):
            raise FileError(f"there is no table [{name}]", str(path), "it may be empty")
    return read


def load_sound() -> dict[str, Any]:
    """configs/sound.toml as plain data; what it says is checked where it is used."""
    return read_toml(data_folder("configs") / "sound.toml")


def rules_names() -> tuple[str, ...]:
    """The sets of configs/rules.toml, in the order of the file."""
    return tuple(read_toml(_rules_path()))


def load_rules(name: str = "normal") -> Rules:
    """One set of configs/rules.toml; FileError if there is no such set or a figure is wrong."""
    path = _rules_path()
    sets = Table(read_toml(path), path)
    if name not in sets:
        raise FileError(f'there is no rule set "{name}"', "", nearest(name, rules_names()))
    table = sets.table(name)
    figures = {key: table.number(key, *_BOUNDS.get(key, (0, 1000))) for key in Rules.names()}
    table.finish()
    return Rules(name, **figures)


_BOUNDS = {
    "tolerance_share": (0, 0.5),
    "window_share": (0, 0.5),
    "unsure_below": (0, 1),
    "blame_above": (0, 1),
    "muffled_chance": (0, 1),
    "pass_share": (0, 1),
}


def instrument_names() -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in _instruments().glob("*.toml")))


def load_instrument(name: str) -> Instrument:
    """An instrument of configs/instruments/ by its file's name, such as double-horn."""
    names = instrument_names()
    if name not in names:
        meant = probably(name, names)
        hint = f"did you mean {meant}? See coach instrument" if meant else "see coach instrument"
        raise FileError(f'there is no instrument "{name}"', "", hint)
    path = _instruments() / f"{name}.toml"
    return _instrument(path, path.stat().st_mtime_ns, path.stat().st_size)


@lru_cache
def _instrument(path: Path, _changed_ns: int, _bytes: int) -> Instrument:
    """Read once while the file stays as it is: every drill of a list asks for its instrument."""
    return read_instrument(path)


def _rules_path() -> Path:
    return data_folder("configs") / "rules.toml"


def _instruments() -> Path:
    return data_folder("configs") / "instruments"
