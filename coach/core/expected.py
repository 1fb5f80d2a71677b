"""What a recording is judged against: expected notes in seconds, as `coach assess` reads them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.core.timeline import Due
from coach.errors import CoachError

ANCHORS = ("grid", "free")
_NOTE_KEYS = {"onset_s", "duration_s", "midi", "slurred", "syllable", "fingering"}


@dataclass(frozen=True, slots=True)
class ExpectedNote:
    """One note: onset and duration in seconds, `midi` the sounding pitch."""

    onset_s: float
    duration_s: float
    midi: int
    slurred: bool = False
    syllable: str | None = None
    fingering: str | None = None


@dataclass(frozen=True, slots=True)
class Expected:
    """The notes a recording should hold.

    `anchor` "grid": second 0 of the recording is second 0 of the list; "free": where the playing
    starts and its tempo are to be found.  `clicks_s`: when clicks sounded, if they may be audible.
    """

    notes: tuple[ExpectedNote, ...]
    instrument: str = "double-horn"
    anchor: str = "grid"
    clicks_s: tuple[float, ...] = ()

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Expected:
        """From the JSON that --expect names; CoachError names the key and the value that is off."""
        if not isinstance(data, Mapping):
            raise CoachError("it must be an object with a list of notes", "expected")
        anchor = data.get("anchor", "grid")
        if anchor not in ANCHORS:
            raise CoachError(f"anchor {anchor!r} is unknown", "expected", 'use "grid" or "free"')
        notes = data.get("notes")
        if not isinstance(notes, Sequence) or isinstance(notes, str) or not notes:
            raise CoachError("notes must be a list with at least one note", "expected")
        read = tuple(_note(k, n) for k, n in enumerate(notes))
        for k, (a, b) in enumerate(itertools.pairwise(read)):
            if b.onset_s <= a.onset_s:
                raise CoachError(f"note {k + 1} does not start after note {k}", "expected")
        instrument = data.get("instrument", "double-horn")
        if not isinstance(instrument, str):
            raise CoachError(f"instrument {instrument!r} is not a name", "expected")
        clicks = tuple(_number("clicks_s", c) for c in data.get("clicks_s") or ())
        return cls(read, instrument, anchor, clicks)

    def dues(self, rate: int) -> tuple[Due, ...]:
        """The notes as dues in frames at `rate`."""
        return tuple(
            Due(
                k,
                n.midi,
                round(n.onset_s * rate),
                max(1, round(n.duration_s * rate)),
                n.slurred,
                n.syllable,
                n.fingering,
            )
            for k, n in enumerate(self.notes)
        )


def _note(place: int, data: Any) -> ExpectedNote:
    where = f"expected note {place}"
    if not isinstance(data, Mapping):
        raise CoachError(f"{data!r} is not a note", where)
    missing = {"onset_s", "duration_s", "midi"} - set(data)
    if missing:
        raise CoachError(f"{sorted(missing)[0]} is missing", where)
    onset_s = _number("onset_s", data["onset_s"], where)
    duration_s = _number("duration_s", data["duration_s"], where)
    midi = _number("midi", data["midi"], where)
    if onset_s < 0 or duration_s <= 0:
        raise CoachError("onset_s must be 0 or more and duration_s above 0", where)
    if midi != int(midi) or not 0 <= midi <= 127:
        raise CoachError(f"midi {data['midi']!r} is not a whole number from 0 to 127", where)
    return ExpectedNote(
        onset_s,
        duration_s,
        int(midi),
        bool(data.get("slurred", False)),
        data.get("syllable"),
        data.get("fingering"),
    )


def _number(key: str, value: Any, where: str = "expected") -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise CoachError(f"{key} {value!r} is not a number", where)
    return float(value)
