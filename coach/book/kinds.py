"""Plain data into dataclasses, each value of the kind that its field is of: what stands in the
book, or comes in a file, may have been written by anybody."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import fields
from fractions import Fraction
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_type_hints

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Note, Passage
from coach.core.timeline import Due, Plan

Made = TypeVar("Made")

# Whole numbers that any program keeps apart: six thousand years of frames.
LARGEST = 2**53
# Python would read "1e999999999" as well, and write it out.  Shares of a tempo have many digits.
_BEATS = re.compile(r"-?[0-9]{1,120}(/[0-9]{1,120})?")
# Where a number that is possible would be worked at without end, or divided by.
_BOUNDS: dict[tuple[type, str], tuple[float, float]] = {
    (Plan, "rate"): (1, 1_000_000),
    (Exercise, "tempo_bpm"): (0.01, 100_000),
    (Exercise, "transposition"): (-120, 120),
    (ClickStyle, "count_in_bars"): (0, 1_000),
    (ClickStyle, "subdivision"): (1, 1_000),
    (Passage, "fifths"): (-60, 60),
    (Passage, "tempo_share"): (0.001, 1_000),
    (Note, "pitch"): (-120, 255),
    (Due, "pitch"): (-120, 255),
}


def one(cls: type[Made], data: Mapping[str, Any]) -> Made:
    """The dataclass with these fields; ValueError if one is of another kind."""
    return made(cls, [data])[0]


def made(cls: type[Made], rows: Sequence[Mapping[str, Any]]) -> tuple[Made, ...]:
    """As `one`, of each row.  Field by field, not row by row: a take has hundreds of rows."""
    for name, kinds in _kinds(cls):  # type: ignore[arg-type]
        values = [row[name] for row in rows if name in row]
        if not kinds.issuperset(map(type, values)):
            raise ValueError(f"{name} of {cls.__name__} is of another kind")
        if float in kinds or int in kinds:
            _check_size(cls, name, values)
    return tuple(cls(**row) for row in rows)


def _check_size(cls: type, name: str, values: Sequence[Any]) -> None:
    low, high = _BOUNDS.get((cls, name), (-LARGEST, LARGEST))
    numbers = [value for value in values if value is not None] or [low]
    if not (low <= min(numbers) and max(numbers) <= high and all(map(isfinite, numbers))):
        raise ValueError(f"{name} of {cls.__name__} is out of range")


@cache
def _kinds(cls: Any) -> list[tuple[str, frozenset[type]]]:
    """The types of the values of each field that is no other dataclass or row of them."""
    hints = get_type_hints(cls)
    found = []
    for field in fields(cls):
        hint = hints[field.name]
        types = set(get_args(hint)) if isinstance(hint, UnionType) else {hint}
        if types <= {int, float, str, bool, Fraction, NoneType}:
            found.append((field.name, frozenset(types | ({int} if float in types else set()))))
    return found


def beats_of(text: object) -> Fraction:
    """ "21/2" or "4"; ValueError for anything else."""
    if not isinstance(text, str) or not _BEATS.fullmatch(text):
        raise ValueError("it has beats that are no fraction")
    try:
        return Fraction(text)
    except ZeroDivisionError:
        raise ValueError("it has a fraction over 0") from None


def whole_number(value: object) -> int:
    """0 to 1,000."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 1_000:
        raise ValueError("it has a number of bars that can't be")
    return value
