"""configs/fingering.toml: what makes a fingering dear; and lists of fingerings as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from coach.core.fingering.weights import Weights
from coach.errors import FileError, reason_of
from coach.files.configs import data_folder
from coach.files.output import refuse_folder
from coach.files.toml import Table, read_toml

DEAREST = 1000.0
FINGERS = ("1", "2", "3", "4")
EXCHANGES = ("12", "23", "13")
NOTES = (
    "second_third", "ring_finger", "intonation", "narrow_partials", "clarity", "pedal", "seventh",
    "rare", "custom", "other_side", "relearn",
)  # fmt: skip
MOVES = (
    "side_change", "side_change_in_run", "length_added", "partials_slurred", "same_shape", "slide",
)  # fmt: skip
TIMES = ("hurried_gap_s", "long_note_s", "phrase_rest_s", "side_change_gap_s")


def load_weights() -> Weights:
    """The weights that come with the coach."""
    return read_weights(data_folder("configs") / "fingering.toml")


def read_weights(path: Path) -> Weights:
    """FileError where a figure is missing or wrong."""
    whole = Table(read_toml(path), path)
    times, fingers, exchanges, notes, moves = (
        whole.table(name) for name in ("time", "fingers", "exchanges", "notes", "moves")
    )
    thumb = _cost(fingers, "thumb")
    figures: dict[str, Any] = {name: times.number(name, 0.01, 10) for name in TIMES}
    figures |= {name: _cost(notes, name) for name in NOTES}
    figures |= {name: _cost(moves, name) for name in MOVES}
    weights = Weights(
        finger={"T": thumb, "H": thumb} | {name: _cost(fingers, name) for name in FINGERS},
        exchange={pair: _cost(exchanges, pair) for pair in EXCHANGES},
        other_exchange=_cost(exchanges, "other"),
        growth=_cost(exchanges, "growth"),
        **figures,
    )
    for table in (times, fingers, exchanges, notes, moves, whole):
        table.finish()
    return weights


def _cost(table: Table, name: str) -> float:
    return table.number(name, 0, DEAREST)


def read_fingerings(path: Path, count: int) -> tuple[str, ...]:
    """A JSON list of `count` fingerings such as ["T0", "2", "T12"]."""
    try:
        found = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        refuse_folder(path, "name a file in it")
        what = f"this file can't be read ({reason_of(error)})"
        raise FileError(what, str(path), "check the name") from None
    except (ValueError, RecursionError):
        raise FileError("this is not JSON", str(path), 'write a list such as ["T0", "2"]') from None
    if not isinstance(found, list) or not all(isinstance(entry, str) for entry in found):
        raise FileError("this is not a list of fingerings", str(path), 'such as ["T0", "2", "T12"]')
    if len(found) != count:
        what = f"{len(found)} fingerings for {count} notes"
        raise FileError(what, str(path), "give one for each note")
    return tuple(found)
