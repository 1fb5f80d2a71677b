"""Keys, scales and chords as numbers.

A key's place on the line of fifths (C = 0, G = 1, F = -1) gives its sharps (> 0) or flats (< 0); a
minor key has three flats more than the major key on the same note (common music theory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_LINE_OF_FIFTHS = "FCGDAEB"
_KEY_NAME = re.compile(r"([A-G])([#b]?)")
_SHARPEST_TONIC = 8
# Once round the circle in fourths, the side with fewer signs: C, F, Bb ... Gb, B ... G.
_CIRCLE = (0, -1, -2, -3, -4, -5, -6, 5, 4, 3, 2, 1)


@dataclass(frozen=True, slots=True)
class Ladder:
    """The rungs of a scale or chord, without end in both directions.

    `start` is the pitch of rung 0, `steps` are the semitones of the rungs inside one octave.
    """

    start: int
    steps: tuple[int, ...]

    def at(self, rung: int) -> int:
        """Pitch of a rung, which may be negative."""
        octave, place = divmod(rung, len(self.steps))
        return self.start + 12 * octave + self.steps[place]


@dataclass(frozen=True, slots=True)
class Mode:
    """A kind of scale or chord: its steps upwards and downwards, and `fifths` to add to the
    tonic's place on the line of fifths for the key signature."""

    title: str
    up: tuple[int, ...]
    down: tuple[int, ...]
    fifths: int

    def ladders(self, tonic: int) -> tuple[Ladder, Ladder]:
        return Ladder(tonic, self.up), Ladder(tonic, self.down)


def _same(title: str, steps: tuple[int, ...], fifths: int) -> Mode:
    return Mode(title, steps, steps, fifths)


_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_MINOR = (0, 2, 3, 5, 7, 8, 10)
SCALES = {
    "major": _same("major", _MAJOR, 0),
    "minor": _same("minor", _MINOR, -3),
    "harmonic_minor": _same("harmonic minor", (0, 2, 3, 5, 7, 8, 11), -3),
    "melodic_minor": Mode("melodic minor", (0, 2, 3, 5, 7, 9, 11), _MINOR, -3),
    "dorian": _same("dorian", (0, 2, 3, 5, 7, 9, 10), -2),
    "mixolydian": _same("mixolydian", (0, 2, 4, 5, 7, 9, 10), -1),
}
CHORDS = {
    "major": _same("major chord", (0, 4, 7), 0),
    "minor": _same("minor chord", (0, 3, 7), -3),
    "dominant_seventh": _same("dominant seventh", (0, 4, 7, 10), -1),
    "diminished_seventh": _same("diminished seventh", (0, 3, 6, 9), -8),
}
CHROMATIC = tuple(range(12))


def place_of_key(name: str) -> int:
    """Place of a note name such as Bb or F# on the line of fifths; ValueError for another."""
    found = _KEY_NAME.fullmatch(name.strip().replace("♭", "b").replace("♯", "#"))
    if not found:
        raise ValueError(f"{name!r} is not a key such as C, Bb or F#")
    letter, accidental = found.groups()
    return _LINE_OF_FIFTHS.index(letter) - 1 + {"": 0, "#": 7, "b": -7}[accidental]


def name_of_place(place: int) -> str:
    """The note name at a place of the line of fifths."""
    sharps, letter = divmod(place + 1, 7)
    return _LINE_OF_FIFTHS[letter] + ("#" * sharps if sharps > 0 else "b" * -sharps)


def all_keys(mode: Mode) -> tuple[str, ...]:
    """The twelve tonics of a mode, round the circle in fourths, none with over six signs.

    Tonics beyond G# (D#, A# ... on diminished chords) go by the names of their flats.
    """
    places = (fifths - mode.fifths for fifths in _CIRCLE)
    return tuple(name_of_place(p if p <= _SHARPEST_TONIC else p - 12) for p in places)


def signature(key: str, mode: Mode) -> int:
    """Sharps (> 0) or flats (< 0) of the signature, brought within six where it would be more."""
    return nearest_signature(place_of_key(key) + mode.fifths)


def nearest_signature(fifths: int) -> int:
    """The same notes with at most six signs: eight sharps are four flats."""
    return fifths if abs(fifths) <= 6 else (fifths + 6) % 12 - 6


def tonic_from(key: str, lowest: int) -> int:
    """The first note called `key` at or above `lowest`."""
    pitch_class = 7 * place_of_key(key) % 12
    return lowest + (pitch_class - lowest) % 12


def semitones_of_partial(partial: int) -> int:
    """Nominal semitones of a partial above its fundamental: the nearest to 12 * log2(partial).

    Partials 7, 11, 13 and 14 lie 31 to 49 cents away from theirs.
    """
    # In whole numbers: 12 * log2(n) >= s + 1/2 exactly where n**24 >= 2**(2s + 1).
    semitones = 0
    while partial**24 >= 2 ** (2 * semitones + 1):
        semitones += 1
    return semitones
