"""Counts and shares of notes, as they are said."""

from __future__ import annotations

import math

_COUNTS = (
    "none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
)  # fmt: skip
MOST_RUNS = 10


def count(number: int) -> str:
    """ "none" to "ten", then figures."""
    return _COUNTS[number] if number < len(_COUNTS) else str(number)


def notes(number: int) -> str:
    return "one note" if number == 1 else f"{count(number)} notes"


def many(number: int, unit: str) -> str:
    return f"{number} {unit}" if number == 1 else f"{number} {unit}s"


def one_in(share: float) -> str:
    """ "one note in ten", of a share."""
    return f"one note in {count(round(1 / share))}"


def fewer(share: float, expected: int) -> str:
    """ "one note fewer in each run of 16"; by several runs where it is less than a note in one."""
    size = share * expected
    if round(size) >= 1:
        return f"{notes(round(size))} fewer in each run of {expected}"
    runs = min(MOST_RUNS, max(2, round(1 / max(size, 1 / MOST_RUNS))))
    return f"one note fewer in {count(runs)} runs of {expected}"


def between(low: float, high: float, expected: int) -> str:
    """ "between none and two", of the two ends of a share of the notes in a run."""
    least, most = (round(max(0.0, end) * expected) for end in (low, high))
    if most == 0:
        return "less than one in any case"
    return (
        f"about {count(most)} in any case"
        if least == most
        else (f"between {count(least)} and {count(most)}")
    )


def up_to(share: float, expected: int) -> str:
    """A share as notes in a run, rounded up to a half: "two and a half notes"."""
    halves = math.ceil(max(0.0, share) * expected * 2 - 1e-9)
    whole, half = divmod(halves, 2)
    if not halves:
        return "nothing"
    if not whole:
        return "half a note"
    return f"{count(whole)} and a half notes" if half else notes(whole)
