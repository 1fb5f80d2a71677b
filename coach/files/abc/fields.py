"""Values of M:, L:, Q:, I: and of note lengths."""

from __future__ import annotations

import re
from fractions import Fraction

from coach.core.score.model import Meter

# Beyond these a length is a slip of the pen: some hundred bars on one note, the 4096th of a note.
LONGEST_BEATS = 1000
MOST_DIGITS = 9
MOST_SLASHES = 10
LENGTH = r"(\d*)(/*)(\d*)"
# Onsets are exact; denominators beyond this come from nonsense and would make sums ever slower.
FINEST = 10**12
_METER = re.compile(r"\(?(\d{1,3}(?:\s*\+\s*\d{1,3}){0,15})\)?\s*/\s*(\d{1,3})")
_UNIT = re.compile(r"1(?:\s*/\s*(\d{1,4}))?")
_QUOTED = re.compile(r'"[^"]*"')
_BEATS = re.compile(r"(\d{1,4}/\d{1,4}(?:\s+\d{1,4}/\d{1,4}){0,7})\s*=\s*(\d{1,6}(?:\.\d{1,6})?)")
_OLD_BEATS = re.compile(r"C(\d{0,3})\s*=\s*(\d{1,6}(?:\.\d{1,6})?)")
_PLAIN = re.compile(r"\d{1,6}(?:\.\d{1,6})?")


def meter_of(text: str) -> Meter | None:
    """M: "C", "C|", "6/8", "(2+3)/8"; None for no meter; ValueError for anything else."""
    text = text.strip()
    if text.casefold() in ("none", ""):
        return None
    if text in ("C", "C|"):
        return Meter((4,), 4) if text == "C" else Meter((2,), 2)
    found = _METER.fullmatch(text)
    if not found:
        raise ValueError(f'"{text[:30]}" is no meter')
    counts = tuple(int(count) for count in found.group(1).split("+"))
    unit = int(found.group(2))
    if min(counts) < 1 or unit not in (1, 2, 4, 8, 16, 32, 64, 128):
        raise ValueError(f'"{text[:30]}" is no meter')
    return Meter(counts, unit)


def unit_of(text: str) -> Fraction:
    """L: in quarter notes; ValueError if it is none such as "1/8"."""
    found = _UNIT.fullmatch(text.strip())
    parts = int(found.group(1) or 1) if found else 0
    if not 1 <= parts <= 1024 or parts & (parts - 1):
        raise ValueError(f'"{text[:30]}" is no unit of length such as 1/8')
    return Fraction(4, parts)


def usual_unit(meter: Meter | None) -> Fraction:
    """The unit where L: is missing: 1/16 in meters below 3/4 of a whole note, else 1/8
    (ABC 2.1, section 3.1.7, from memory)."""
    return Fraction(1, 4) if meter and meter.bar_beats < 3 else Fraction(1, 2)


def tempo_of(text: str, unit_beats: Fraction) -> float | None:
    """Q: in quarter notes a minute: "1/4=120", "3/8 1/4=60", or so many units of L: a minute as
    old files have it; None for words alone; ValueError for anything else."""
    plain = _QUOTED.sub(" ", text).strip()
    if not plain:
        return None
    beats, bpm = _beats_and_bpm(plain, unit_beats)
    quarter_bpm = float(beats * Fraction(bpm))
    if not 1 <= quarter_bpm <= 10_000:
        raise ValueError(f'"{text[:30]}" is no tempo that can be played')
    return quarter_bpm


def quoted_in(text: str) -> list[str]:
    """The words in Q:, such as "Allegro" or "rit."."""
    return [found.strip('"') for found in _QUOTED.findall(text)]


def _beats_and_bpm(plain: str, unit_beats: Fraction) -> tuple[Fraction, str]:
    found = _BEATS.fullmatch(plain)
    if found:
        parts = [part.split("/") for part in found.group(1).split()]
        if all(int(low) for _, low in parts):
            return 4 * sum((Fraction(int(a), int(b)) for a, b in parts), Fraction(0)), found[2]
    found = _OLD_BEATS.fullmatch(plain)
    if found:
        return unit_beats * int(found.group(1) or 1), found.group(2)
    if _PLAIN.fullmatch(plain):
        return unit_beats, plain
    raise ValueError(f'"{plain[:30]}" is no tempo such as 1/4=120')


def length_of(times: str, slashes: str, parts: str) -> Fraction:
    """A length behind a note in units of L:, such as "3/2", "/" (1/2), "//" (1/4) or "4".

    ValueError if it is nothing, endless, or finer than any note.
    """
    if max(len(times), len(parts)) > MOST_DIGITS or len(slashes) > MOST_SLASHES:
        raise ValueError("a length has too many digits or slashes")
    length = Fraction(int(times or 1))
    if slashes:
        below = int(parts) if parts else 2
        if below == 0:
            raise ValueError("a length is divided by 0")
        length = length / below / 2 ** (len(slashes) - 1)
    if length <= 0:
        raise ValueError("a note has the length 0")
    return length


def lasting_of(text: str) -> str | None:
    """I: how far an accidental lasts: "octave" (its own octave, to the end of the bar), "pitch"
    (every octave), "not" (its own note); None if the instruction is about something else."""
    name, _, value = text.partition(" ")
    known = value.strip() if name == "propagate-accidentals" else ""
    return known if known in ("octave", "pitch", "not") else None
