"""Decorations: marks on a note, fingerings, and signs that say how to go on."""

from __future__ import annotations

import re
from typing import Final

from coach.files.notewords import is_fingering

# Names of marks by the words between exclamation marks (ABC 2.1, section 4.14, from memory).
MARKS: Final = {
    ">": "accent",
    "accent": "accent",
    "emphasis": "accent",
    "^": "marcato",
    "marcato": "marcato",
    "tenuto": "tenuto",
    "fermata": "fermata",
    "invertedfermata": "fermata",
    "trill": "trill",
    "plus": "stopped",
    "+": "stopped",
    "open": "open",
    "mordent": "mordent",
    "lowermordent": "mordent",
    "uppermordent": "inverted-mordent",
    "pralltriller": "inverted-mordent",
    "turn": "turn",
    "wedge": "staccatissimo",
    "staccato": "staccato",
}
LETTERS: Final = {
    ".": "staccato",
    "H": "fermata",
    "L": "accent",
    "M": "lowermordent",
    "O": "coda",
    "P": "uppermordent",
    "S": "segno",
    "T": "trill",
}
SIGNS: Final = {
    "segno": "segno",
    "coda": "coda",
    "fine": "fine",
    "d.c.": "capo",
    "dacapo": "capo",
    "d.c.alfine": "capo",
    "d.c.alcoda": "capo",
    "d.s.": "segno-back",
    "d.s.alfine": "segno-back",
    "d.s.alcoda": "segno-back",
    "dalsegno": "segno-back",
    "dacoda": "to-coda",
    "tocoda": "to-coda",
}
_PLACED = re.compile(r"[\^_<>@]\s*(\S{1,8})")


def mark_of(word: str) -> str | None:
    return MARKS.get(word.casefold())


def sign_of(word: str) -> str | None:
    """What it says of the bar: "segno", "coda", "fine", "capo", "segno-back" or "to-coda"."""
    return SIGNS.get(word.casefold())


def fingering_of(text: str) -> str | None:
    """The fingering in an annotation such as "^T12" or a decoration such as "2", if it is one."""
    placed = _PLACED.fullmatch(text)
    plain = placed.group(1) if placed else text if len(text) == 1 else ""
    return plain if is_fingering(plain) else None
