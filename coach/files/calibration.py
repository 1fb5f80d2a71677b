"""Round trips that `coach check` measured, one a pair of devices, as JSON in the user's folder."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from coach.errors import CoachError
from coach.files.configs import own_folder

FILE = "calibrations.json"


@dataclass(frozen=True, slots=True)
class Calibration:
    """The round trip of one device pair in seconds; `spread_ms` is how far the probes disagreed."""

    seconds: float
    spread_ms: float
    rate: int


def stored_round_trip(source: str, sink: str) -> Calibration | None:
    """What was measured for this pair, None if it never was (or the file is spoilt)."""
    found = _read().get(_key(source, sink))
    try:
        return Calibration(**found) if isinstance(found, dict) else None
    except TypeError:
        return None


def store_round_trip(source: str, sink: str, calibration: Calibration) -> None:
    """Keep a measurement in place of an older one; CoachError if it cannot be written."""
    everything = {**_read(), _key(source, sink): asdict(calibration)}
    path = own_folder() / FILE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(".new")
        fresh.write_text(json.dumps(everything, indent=1) + "\n", "utf-8")
        fresh.replace(path)
    except OSError as error:
        raise CoachError(
            f"the round trip can't be kept ({error.strerror or error})",
            str(path),
            "set COACH_HOME to a folder you can write to",
        ) from None


def _key(source: str, sink: str) -> str:
    return f"{source} | {sink}"


def _read() -> dict[str, object]:
    try:
        read = json.loads((own_folder() / FILE).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return read if isinstance(read, dict) else {}
