"""What a recording is judged against: expected notes in seconds, as `coach assess` reads them."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.core.timeline import Due
from coach.errors import CoachError

ANCHORS = ("grid", "free")
# A day: twelve times the longest recording that is read.
LONGEST_S = 86_400.0
_LONGEST_SHOWN = 60


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
            hint = 'use "grid" or "free"'
            raise CoachError(f"anchor {_shown(anchor)} is unknown", "expected", hint)
        notes = data.get("notes")
        if not isinstance(notes, Sequence) or isinstance(notes, str) or not notes:
            raise CoachError("notes must be a list with at least one note", "expected")
        read = tuple(_note(k, n) for k, n in enumerate(notes))
        for k, (a, b) in enumerate(itertools.pairwise(read)):
            if b.onset_s <= a.onset_s:
                raise CoachError(f"note {k + 1} does not start after note {k}", "expected")
        instrument = data.get("instrument", "double-horn")
        if not isinstance(instrument, str):
            raise CoachError(f"instrument {_shown(instrument)} is not a name", "expected")
        return cls(read, instrument, anchor, _clicks(data.get("clicks_s")))

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
        raise CoachError(f"{_shown(data)} is not a note", where)
    missing = {"onset_s", "duration_s", "midi"} - set(data)
    if missing:
        raise CoachError(f"{sorted(missing)[0]} is missing", where)
    onset_s = _number("onset_s", data["onset_s"], where)
    duration_s = _number("duration_s", data["duration_s"], where)
    midi = _number("midi", data["midi"], where)
    if onset_s < 0 or duration_s <= 0:
        raise CoachError("onset_s must be 0 or more and duration_s above 0", where)
    if midi != int(midi) or not 0 <= midi <= 127:
        what = f"midi {_shown(data['midi'])} is not a whole number from 0 to 127"
        raise CoachError(what, where)
    return ExpectedNote(
        onset_s,
        duration_s,
        int(midi),
        _flag("slurred", data.get("slurred"), where),
        _word("syllable", data.get("syllable"), where),
        _word("fingering", data.get("fingering"), where),
    )


def _clicks(values: Any) -> tuple[float, ...]:
    if values is None:
        return ()
    if not isinstance(values, Sequence) or isinstance(values, str):
        raise CoachError(f"clicks_s {_shown(values)} is not a list of numbers", "expected")
    return tuple(_number("clicks_s", value) for value in values)


def _number(key: str, value: Any, where: str = "expected") -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        raise CoachError(f"{key} {_shown(value)} is not a number", where)
    if not -LONGEST_S <= value <= LONGEST_S:
        hint = f"no more than {LONGEST_S:,.0f} are allowed"
        raise CoachError(f"{key} {_shown(value)} is out of range", where, hint)
    return float(value)


def _flag(key: str, value: Any, where: str) -> bool:
    if not isinstance(value, bool | int | None):
        raise CoachError(f"{key} {_shown(value)} is neither true nor false", where)
    return bool(value)


def _word(key: str, value: Any, where: str) -> str | None:
    if not isinstance(value, str | None):
        raise CoachError(f"{key} {_shown(value)} is not text", where)
    return value


def _shown(value: object) -> str:
    """As it was written, shortened to fit a sentence."""
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # a number of thousands of digits
        return "far too large"
    return text if len(text) <= _LONGEST_SHOWN else f"{text[: _LONGEST_SHOWN - 3]}..."
