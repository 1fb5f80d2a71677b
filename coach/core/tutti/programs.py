"""Which General MIDI sound a part of a score is nearest to.

Numbers from 0 as in a file: General MIDI Level 1.  Names are those printed on parts in English,
German, Italian and French (common practice, no source).
"""

from __future__ import annotations

import re

from coach.core.score.partnames import plain_words

STRINGS = 48
_PROGRAM = re.compile(r"program (\d+)")
# The first that is found in the name decides; longer names stand before those that they contain.
_NAMES: tuple[tuple[int, str], ...] = (
    (72, r"piccol\w+|ottavino"),
    (73, r"flaut\w+|flut\w+|flot\w+|flote"),
    (69, r"english horn|cor anglais|corno ingl\w+|englischhorn"),
    (68, r"obo\w+|hautbois"),
    (71, r"clar\w*|klar\w*|basset\w*"),
    (70, r"(contra|kontra)?(fag|basson|bassoon)\w*"),
    (65, r"sax\w*"),
    (57, r"trombon\w*|posaun\w*|tbn\w*"),
    (56, r"tromba|trombe|trump\w+|trompet\w*|cornet\w*|kornett\w*|flugel\w*|tpt\w*"),
    (58, r"tub[ae]|tuben|euphon\w*|bariton\w*|basstuba"),
    (60, r"corn[oi]|horns?|horner|cors?|hrn?s?"),
    (47, r"timp\w*|pauk\w*"),
    (46, r"arp[ae]|harp\w*|harfe\w*"),
    (40, r"violin[oi]?s?|violon|violons|geigen?|vln?s?"),
    (42, r"violoncell\w*|cell[oi]s?|vcl?s?"),
    (43, r"contrabass\w*|kontrabass\w*|double bass\w*|bass[io]?|basses|cb"),
    (41, r"violas?|viole|alto|bratschen?|vla"),
    (19, r"organ\w*|orgel|orgue"),
    (0, r"piano\w*|klavier|clavier|cembalo"),
    (52, r"voices?|sopran\w*|tenor\w*|choir|chor\w*|cor[io]"),
)
_PATTERNS = tuple((program, re.compile(rf"\b(?:{pattern})\b")) for program, pattern in _NAMES)


def program_of(part_name: str, sound: str = "") -> int:
    """The General MIDI program of a part: what the file says ("program 60"), else by its name or
    the name of its sound ("brass.french-horn"); strings where nothing is known."""
    said = _PROGRAM.fullmatch(sound.strip().casefold())
    if said:
        return min(int(said[1]), 127)
    for words in (plain_words(part_name), plain_words(sound)):
        for program, pattern in _PATTERNS:
            if pattern.search(words):
                return program
    return STRINGS
