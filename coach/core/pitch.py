"""Pitch: names, MIDI numbers, hertz and cents; written and sounding.

MIDI numbers count semitones with A4 = 69 = 440 Hz in equal temperament,
f = 440 * 2**((m - 69) / 12).  Octave numbers follow the acoustical convention, C4 = 60.
A transposition is what to add to a written pitch to get the sounding one: -7 for horn in F.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

A4_HZ = 440.0
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "bb": -2}
_SHARP_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_NAME = re.compile(r"([A-Ga-g])(##|bb|#|b|♯|♭)?(-?\d)")


@dataclass(frozen=True, slots=True)
class Spelled:
    """A pitch with its name: letter A to G, semitones of its accidental, octave (C4: middle C)."""

    letter: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        return 12 * (self.octave + 1) + _LETTERS[self.letter] + self.alter

    @property
    def name(self) -> str:
        """Such as "F#4", "Bb3"; a double sharp is "##"."""
        return f"{self.letter}{('#' if self.alter > 0 else 'b') * abs(self.alter)}{self.octave}"


def midi_of_name(name: str) -> int:
    """MIDI number of a name such as ``F#4``, ``Bb3`` or ``C-1``; ValueError for anything else."""
    found = _NAME.fullmatch(name.strip())
    if not found:
        raise ValueError(f"{name!r} is not a note name such as F#4 or Bb3")
    letter, accidental, octave = found.groups()
    return 12 * (int(octave) + 1) + _LETTERS[letter.upper()] + _ACCIDENTALS[accidental or ""]


def name_of_midi(midi: int, fifths: int = 0) -> str:
    """Name of a MIDI number, spelt with flats when the key has flats (`fifths` < 0)."""
    names = _FLAT_NAMES if fifths < 0 else _SHARP_NAMES
    return f"{names[midi % 12]}{midi // 12 - 1}"


def moved_key(fifths: int, semitones: int) -> int:
    """A key so many semitones higher: five to seven accidentals at most, flats where equal."""
    return fifths if semitones % 12 == 0 else (fifths + 7 * semitones + 6) % 12 - 6


def hz_of_midi(midi: float, a4_hz: float = A4_HZ) -> float:
    """Frequency in Hz of a (fractional) MIDI number."""
    return float(a4_hz * 2.0 ** ((midi - 69) / 12))


def midi_of_hz(hz: float, a4_hz: float = A4_HZ) -> float:
    """Fractional MIDI number of a frequency in Hz (> 0)."""
    return 69 + 12 * math.log2(hz / a4_hz)


def cents_between(hz: float, reference_hz: float) -> float:
    """How far `hz` lies above `reference_hz`, in cents."""
    return 1200 * math.log2(hz / reference_hz)


def sounding_of_written(written: int, transposition: int) -> int:
    """Sounding MIDI number of a written one."""
    return written + transposition


def written_of_sounding(sounding: int, transposition: int) -> int:
    """Written MIDI number of a sounding one."""
    return sounding - transposition
