"""Which brass instrument a part is for, told from its name and from what the file says of it.

Names are those printed on parts in English, German, Italian, French and Spanish (common practice,
no source); programs are numbered from 0 as in a file: General MIDI Level 1 calls 56 trumpet, 57
trombone, 58 tuba, 59 muted trumpet and 60 French horn.
"""

from __future__ import annotations

import re
import unicodedata

_PROGRAMS = {56: "trumpet", 57: "trombone", 58: "tuba", 59: "trumpet", 60: "double-horn"}
_PROGRAM = re.compile(r"program (\d+)")
_WORD = re.compile(r"[a-z]+")

# The first that is found among the words of a name decides; None: not brass, or not one of the
# instruments that have a file.  Longer names stand before those that they contain.
_NAMES: tuple[tuple[str | None, str], ...] = (
    (None, r"(english|basset|post|alp) ?horns?|englischhorn\w*|bassett?horn\w*|krummhorn"),
    (None, r"cor anglais|cor de basset|corno (inglese|ingles|di bassetto)|sax\w*|saxhorn\w*"),
    (None, r"wagner ?tub\w+|voice|clarinet\w*|cornett[oi]|zink\w*"),
    (None, r"(bass|basse|bassa) trump\w+|tromba bassa|basstrompete\w*"),
    (None, r"(alto?|contrabass|contrabasso) trombon\w+|altposaune\w*|kontrabassposaune\w*"),
    ("flugelhorn", r"flugel ?horn\w*|flugel|flicorn\w+|fiscorn\w+|flgh"),
    ("cornet", r"cornets?|cornett?as?|cornettes?|kornette?|cnt|crt"),
    ("trombone-f", r"(bass|basso|basse) trombon\w*|trombon\w* (bass|basso|basse)(?! clef)"),
    ("trombone-f", r"bassposaune\w*|(b|bs|bass) tbns?|btbn"),
    ("trombone", r"trombon\w*|posaunen?|tenorposaunen?|tbns?|trbn|pos"),
    ("trumpet", r"trumpets?|tromb[ae]|trompet\w+|clarin[oi]|tpts?|trpt?|trmp"),
    ("euphonium", r"euphoni\w+|eufoni\w+|euph|bariton\w*|tenor tubas?"),
    ("tuba", r"tub(a|as|en)|basstub\w+|sousaphone|tba"),
    # "Bb alto horn" names the crook of a horn.
    (
        "tenor-horn",
        r"(?<!\b[abc] )(?<!\b[ab]b )(?<!\b[ab] flat )alto horns?|tenor horns?|althorn\w*",
    ),
    ("natural-horn", r"natural horns?|naturhorn\w*|corn[oi] naturale?|cors? naturels?"),
    (None, r"bass horns?"),
    ("double-horn", r"(french ?)?horns?|corn[oi]|cors?|(wald)?horner|waldhorn|trompas?|hr?ns?|hr"),
)
_PATTERNS = tuple((name, re.compile(rf"\b(?:{pattern})\b")) for name, pattern in _NAMES)


def instrument_of(part_name: str, sound: str = "") -> str | None:
    """The file in configs/instruments/ (without .toml) that a part is for; None if none is.

    The name goes before the `sound`, which is either "program 60" or a name such as
    "brass.french-horn".
    """
    decided, named = _named(part_name)
    if decided or not sound:
        return named
    program = _PROGRAM.fullmatch(sound.strip().casefold())
    return _PROGRAMS.get(int(program[1])) if program else _named(sound)[1]


def _named(text: str) -> tuple[bool, str | None]:
    """Whether the words tell what it is, and the file for it."""
    words = plain_words(text)
    for name, pattern in _PATTERNS:
        if pattern.search(words):
            return True, name
    return False, None


def plain_words(text: str) -> str:
    """The words in small letters, without accents, figures and stops."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return " ".join(_WORD.findall("".join(c for c in plain if not unicodedata.combining(c))))
