"""What `coach check` measured: round trips, one a pair of devices, and how late instruments on a
MIDI output sound; as JSON in the user's folder."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields

from coach.errors import CoachError, FileError
from coach.files.configs import own_folder
from coach.files.output import private_folder, write_whole, writing

FILE = "calibrations.json"
# In place of a device that listens.
MIDI = "MIDI"
# More than any measuring looks for.
LONGEST_S, FASTEST_RATE = 5.0, 1_000_000


@dataclass(frozen=True, slots=True)
class Calibration:
    """The delay of one device pair, or of an instrument, in seconds; `spread_ms` is how far the
    probes disagreed."""

    seconds: float
    spread_ms: float
    rate: int


def stored_round_trip(source: str, sink: str) -> Calibration | None:
    """What was measured for this pair, None if it never was (or the file is spoilt)."""
    return _stored(_key(source, sink))


def any_round_trip() -> bool:
    """Whether any was ever measured."""
    return any(not key.startswith(_key(MIDI, "")) for key in _read())


def stored_delay(instrument: str) -> Calibration | None:
    """As `stored_round_trip`, for the instrument on a MIDI output."""
    return _stored(_key(MIDI, instrument))


def _stored(key: str) -> Calibration | None:
    found = _read().get(key)
    if not isinstance(found, dict) or set(found) != {one.name for one in fields(Calibration)}:
        return None
    sound = (
        _within(found["seconds"], -LONGEST_S, LONGEST_S)
        and _within(found["spread_ms"], 0, 1000 * LONGEST_S)
        and isinstance(found["rate"], int)
        and _within(found["rate"], 1, FASTEST_RATE)
    )
    return Calibration(**found) if sound else None


def _within(value: object, low: float, high: float) -> bool:
    """Whether that is a number, and one of these."""
    return not isinstance(value, bool) and isinstance(value, int | float) and low <= value <= high


def store_round_trip(source: str, sink: str, calibration: Calibration) -> None:
    """Keep a measurement in place of an older one; CoachError if it cannot be written."""
    _store(_key(source, sink), calibration)


def store_delay(instrument: str, calibration: Calibration) -> None:
    """As `store_round_trip`, for the instrument on a MIDI output."""
    _store(_key(MIDI, instrument), calibration)


def _store(key: str, calibration: Calibration) -> None:
    everything = {**_read(), key: asdict(calibration)}
    path = own_folder() / FILE
    try:
        with writing(path):
            private_folder(path.parent)
        write_whole(path, json.dumps(everything, indent=1) + "\n", private=True)
    except FileError as error:
        hint = "set COACH_HOME to a folder you can write to"
        raise CoachError(
            f"what was measured can't be kept: {error.what}", str(path), hint
        ) from None


def _key(source: str, sink: str) -> str:
    return f"{source} | {sink}"


def _read() -> dict[str, object]:
    try:
        read = json.loads((own_folder() / FILE).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return read if isinstance(read, dict) else {}
