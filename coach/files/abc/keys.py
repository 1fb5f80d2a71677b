"""K: and the properties that K: and V: share: tonic, mode, accidentals, clef, transposition."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

LETTERS = "FCGDAEB"
# Fifths from the major key on the same tonic (ABC 2.1, section 3.1.14, from memory).
MODES = {"maj": 0, "ion": 0, "mix": -1, "dor": -2, "min": -3, "aeo": -3, "phr": -4, "loc": -5}
MODES |= {"lyd": 1, "m": -3, "": 0}
MOST_SHARPS = 7
# Seven octaves of keys is more than any instrument has.
MOST_OCTAVES = 5
MOST_SEMITONES = 60
_MODE = r"(m|(?:maj|min|mix|dor|phr|lyd|loc|aeo|ion)[a-z]*)"
_TONIC = re.compile(rf"([A-Ga-g])([#b♯♭]?){_MODE}?(exp)?", re.IGNORECASE)
_MODE_ALONE = re.compile(_MODE, re.IGNORECASE)
_WORD = re.compile(r'(?:[^\s"]|"[^"]*")+')
_PROPERTY = re.compile(r"([A-Za-z]+)=(.*)", re.DOTALL)
_ACCIDENTAL = re.compile(r"(\^{1,2}|_{1,2}|=)([A-Ga-g])")
_CLEF = re.compile(r"(treble|bass|alto|tenor|perc|none|[GFCP])([1-5]?)([+-](?:8|15))?")
_CLEF_LETTERS = {"treble": "G", "bass": "F", "alto": "C", "tenor": "C"}
_OCTAVES = {None: 0, "": 0, "+8": 1, "-8": -1, "+15": 2, "-15": -2}
ALTERS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0, "": 0}


@dataclass(slots=True)
class Properties:
    """What a K: or V: field says; None where it says nothing."""

    fifths: int | None = None
    alters: dict[str, int] | None = None
    name: str | None = None
    clef: str | None = None
    clef_octave: int | None = None
    octave: int | None = None
    transposition: int | None = None
    unknown: list[str] = field(default_factory=list)


def signature(fifths: int) -> dict[str, int]:
    """Letter to semitones in the key with so many sharps (flats < 0)."""
    return {letter: (fifths + 6 - place) // 7 for place, letter in enumerate(LETTERS)}


def key_of(text: str) -> Properties:
    """ValueError if the tonic, the clef or a number is none that exists."""
    words = _WORD.findall(text)
    made = Properties()
    rest = words[1:] if words and _take_key(words[0], made) else words
    if not words:
        _set_key(made, 0)
    for word in rest:
        if made.fifths is not None and _MODE_ALONE.fullmatch(word):
            _set_key(made, made.fifths + MODES[_mode(word)])
        else:
            _take_word(word, made)
    if made.unknown:
        raise ValueError(f'"{made.unknown[0][:30]}" is no key, mode or clef')
    # Only at the end: G# alone would have eight sharps, G# minor has five.
    if made.fifths is not None and abs(made.fifths) > MOST_SHARPS:
        raise ValueError(f"a key with {abs(made.fifths)} sharps or flats has no signature")
    return made


def voice_of(text: str) -> tuple[str, Properties]:
    """The name by which V: calls the voice, and what it says of it; ValueError as `key_of`."""
    words = _WORD.findall(text)
    if not words:
        raise ValueError("V: names no voice")
    made = Properties()
    for word in words[1:]:
        _take_word(word, made)
    return words[0], made


def _mode(word: str) -> str:
    return word.lower() if word.lower() == "m" else word.lower()[:3]


def _take_key(word: str, made: Properties) -> bool:
    """Whether the first word is a key."""
    if word.casefold() == "none":
        _set_key(made, 0)
    elif word in ("HP", "Hp"):
        _set_key(made, 2)
    elif found := _TONIC.fullmatch(word):
        letter, accidental, mode, explicit = found.groups()
        fifths = LETTERS.index(letter.upper()) - 1 + 7 * ("#♯".find(accidental or "x") >= 0)
        fifths -= 7 * ("b♭".find(accidental or "x") >= 0)
        fifths += MODES[_mode(mode or "")]
        _set_key(made, 0 if explicit else fifths)
    else:
        return False
    return True


def _set_key(made: Properties, fifths: int) -> None:
    made.fifths, made.alters = fifths, signature(fifths)


def _take_word(word: str, made: Properties) -> None:
    if word.casefold() == "exp":
        _set_key(made, 0)
    elif found := _ACCIDENTAL.fullmatch(word):
        _take_accidental(found.group(1), found.group(2).upper(), made)
    elif found := _PROPERTY.fullmatch(word):
        _take_property(found.group(1).casefold(), found.group(2).strip('"'), made)
    elif not _take_clef(word, made) and word not in ("+8", "-8"):
        made.unknown.append(word)


def _take_accidental(accidental: str, letter: str, made: Properties) -> None:
    alters = dict(made.alters or signature(0))
    alters[letter] = ALTERS[accidental]
    made.alters = alters
    made.fifths = min(range(-7, 8), key=lambda fifths: (_distance(fifths, alters), abs(fifths)))


def _distance(fifths: int, alters: dict[str, int]) -> int:
    """How many letters the signature has otherwise."""
    return sum(alters[letter] != alter for letter, alter in signature(fifths).items())


def _take_property(name: str, value: str, made: Properties) -> None:
    if name == "clef":
        _take_clef(value, made)
    elif name in ("name", "nm"):
        made.name = value
    elif name == "octave":
        made.octave = _number(name, value, MOST_OCTAVES)
    elif name == "transpose":
        made.transposition = _number(name, value, MOST_SEMITONES)


def _number(name: str, value: str, most: int) -> int:
    if not re.fullmatch(r"[+-]?\d{1,3}", value) or abs(int(value)) > most:
        raise ValueError(f"{name}={value[:30]} is not a whole number from -{most} to {most}")
    return int(value)


def _take_clef(word: str, made: Properties) -> bool:
    """A clef, "treble-8" an octave lower; a clef of another sort is read as treble."""
    found = _CLEF.fullmatch(word)
    if not found:
        return False
    kind, _, shift = found.groups()
    made.clef = _CLEF_LETTERS.get(kind, kind if kind in "GFC" else "G")
    made.clef_octave = _OCTAVES[shift]
    return True
