"""What a horn or a trumpet is "in": the crook by name, and what it adds to the written note.

Horns: handbook tables (Wikibooks, Horn/Technique/Transposition; rgsmithmusic.com, horn
transposition chart).  Trumpets in C, D, E-flat, E, F, A, B-flat and the piccolo ones: handbook
tables; in B and D-flat: common practice, no source.
"""

from __future__ import annotations

import re

from coach.errors import CoachError

# Where a name stands twice (B-flat, A-flat), alto or basso must be said.  C alone is the low one
# and A and G alone the high ones, as the tables have it.
HORNS = {
    "C alto": 0, "Bb alto": -2, "A alto": -3, "Ab alto": -4, "G": -5, "F#": -6, "F": -7, "E": -8,
    "Eb": -9, "D": -10, "Db": -11, "C": -12, "B": -13, "Bb basso": -14, "A basso": -15,
    "Ab basso": -16, "G basso": -17,
}  # fmt: skip
TRUMPETS = {
    "Bb piccolo": 10, "A piccolo": 9, "F": 5, "E": 4, "Eb": 3, "D": 2, "Db": 1, "C": 0, "B": -1,
    "Bb": -2, "A": -3,
}  # fmt: skip
_TABLES = {"horn": HORNS, "trumpet": TRUMPETS}
_ALSO = {"A": "A alto", "G alto": "G", "C basso": "C", "B basso": "B"}
_OTHER_SPELLINGS = {"C#": "Db", "D#": "Eb", "Gb": "F#", "G#": "Ab", "A#": "Bb"}
_NAME = re.compile(
    r"(?:in\s+)?([a-g])\s*-?\s*(b|♭|flat|#|♯|sharp)?[\s,(-]*(alto|basso|piccolo)?\)?"
)


def crook_name(transposition: int, family: str = "horn") -> str:
    """The crook that adds so many semitones: "D" for -10, "Bb basso" for -14; for those that have
    no name of their own the semitones, such as "+12 semitones".  `family`: "horn" or "trumpet"."""
    for name, semitones in _TABLES[family].items():
        if semitones == transposition:
            return name
    return f"{transposition:+d} semitones"


def crook_of(name: str, family: str = "horn") -> int:
    """The semitones of a crook named in English: "D", "E-flat", "Bb basso"; `family` as above.

    CoachError where there is none of that name, or where alto or basso must be said.
    """
    table = _TABLES[family]
    wanted = _spelled(name)
    found = table.get(wanted, table.get(_ALSO.get(wanted, "")))
    if found is not None:
        return found
    both = [key for key in table if wanted and key.startswith(wanted + " ")]
    if both:
        what = f"a {family} in {name.strip()} may be {' or '.join(both)}"
        raise CoachError(what, "", "say which: the part or its first page often tells")
    raise CoachError(f'there is no {family} in "{name}"', "", f"there are: {', '.join(table)}")


def _spelled(name: str) -> str:
    """The name as the tables have it; "" for what is no such name."""
    found = _NAME.fullmatch(name.strip().casefold())
    if not found:
        return ""
    letter, sign, word = found.groups(default="")
    key = letter.upper() + {"b": "b", "♭": "b", "flat": "b", "": ""}.get(sign, "#")
    return f"{_OTHER_SPELLINGS.get(key, key)} {word}".strip()
