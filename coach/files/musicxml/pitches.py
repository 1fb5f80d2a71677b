"""Pitches, and what transposing does to them and to keys."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from xml.etree.ElementTree import Element

from coach.core.pitch import Spelled
from coach.files.musicxml import limits
from coach.files.musicxml.place import Place
from coach.files.musicxml.values import number_of, whole_in

_LETTERS = "CDEFGAB"
_MAJOR = (0, 2, 4, 5, 7, 9, 11)  # semitones of the letters above C
_LINE_OF_FIFTHS = (0, 2, 4, -1, 1, 3, 5)  # C D E F G A B: where they stand on it
_FLAT_SPELLING = ("C", "D-", "D", "E-", "E", "F", "F+", "G", "A-", "A", "B-", "B")
_MIDI = range(128)


@lru_cache(maxsize=1024)
def _spelled(step: str, alter_text: str | None, octave_text: str | None) -> tuple[Spelled, bool]:
    """The pitch, and whether it lies between two semitones; ValueError for what is no pitch."""
    letter, octave = step.strip().upper(), number_of(octave_text)
    alter = number_of(alter_text) if alter_text and alter_text.strip() else number_of("0")
    if len(letter) != 1 or letter not in _LETTERS or octave is None or alter is None:
        raise ValueError
    if not -2 <= octave <= 12 or not -4 < alter < 4:
        raise ValueError
    return Spelled(letter, int(alter), int(octave)), alter.denominator != 1


def pitch_of(pitch: Element, place: Place) -> Spelled:
    """What the <pitch> says, quarter tones put to the plain letter's side; FileError if nothing."""
    step = pitch.findtext("step") or ""
    alter, octave = pitch.findtext("alter"), pitch.findtext("octave")
    try:
        found, between = _spelled(step, alter, octave)
    except ValueError:
        said = f"{step[:5]} {(alter or '')[:5]} {(octave or '')[:5]}".strip()
        raise place.error(f"{said or 'nothing'!r} is no pitch") from None
    if between:
        place.count("Notes between two semitones, put to the plain letter's side")
    return found


@dataclass(frozen=True, slots=True)
class Interval:
    """From written to sounding: `steps` of the staff and `semitones`, octaves in both."""

    steps: int = 0
    semitones: int = 0

    @property
    def fifths(self) -> int:
        """How far it moves along the line of fifths: 1 for a fifth up."""
        octaves, step = divmod(self.steps, 7)
        natural = 12 * octaves + _MAJOR[step]
        return _LINE_OF_FIFTHS[step] + 7 * (self.semitones - natural)


UNISON = Interval()


def interval_of(transpose: Element, place: Place) -> Interval:
    """What a <transpose> or <part-transpose> says, octaves and doublings with it."""
    chromatic = whole_in(transpose, "chromatic")
    guessed = round(chromatic * 7 / 12)
    steps = whole_in(transpose, "diatonic", guessed)
    octaves = whole_in(transpose, "octave-change")
    double = transpose.find("double")
    if double is not None:
        octaves += 1 if double.get("above") == "yes" else -1
    if abs(steps - guessed) > 1:  # some programs leave the diatonic steps at 0
        steps = guessed
    semitones = chromatic + 12 * octaves
    if abs(semitones) > limits.MAX_SEMITONES:
        raise place.error(f"a transposition by {semitones} semitones makes no sense")
    return Interval(steps + 7 * octaves, semitones)


@lru_cache(maxsize=4096)
def written_for(pitch: Spelled, interval: Interval) -> Spelled:
    """The written pitch that sounds as `pitch` on an instrument that transposes by `interval`.

    The letter moves by the steps of the interval; its accidental follows from the semitones.
    """
    midi = pitch.midi - interval.semitones
    place = _LETTERS.index(pitch.letter) + 7 * pitch.octave - interval.steps
    octave, step = divmod(place, 7)
    alter = midi - (12 * (octave + 1) + _MAJOR[step])
    if abs(alter) <= 2:
        return Spelled(_LETTERS[step], alter, octave)
    name = _FLAT_SPELLING[midi % 12]
    sign = {"-": -1, "+": 1}.get(name[1:], 0)
    return Spelled(name[0], sign, midi // 12 - 1)


def written_key(fifths: int, interval: Interval) -> int:
    """The key of the part; beyond seven accidentals its neighbour on the other side."""
    moved = fifths - interval.fifths
    return moved if -7 <= moved <= 7 else (moved + 6) % 12 - 6


def check_sounding(midi: int, name: str, place: Place) -> None:
    if midi not in _MIDI:
        raise place.error(f"{name} sounds outside all that can be played (MIDI {midi})")


@lru_cache(maxsize=256)
def _signature(fifths: int) -> tuple[int, ...]:
    """Accidentals of C D E F G A B: a letter at place p has one sharp more per seven fifths."""
    return tuple((fifths + 5 - place) // 7 for place in _LINE_OF_FIFTHS)


def nearest_key(alters: dict[str, int]) -> int:
    """The usual key that agrees with the most letters; the plainest of equally good ones."""
    own = tuple(alters.get(letter, 0) for letter in _LETTERS)

    def agreeing(fifths: int) -> tuple[int, int]:
        pairs = zip(own, _signature(fifths), strict=True)
        return sum(a == b for a, b in pairs), -abs(fifths)

    return max(range(-7, 8), key=agreeing)


def key_of(key: Element, place: Place) -> int:
    """Sharps, or minus flats, of a <key>."""
    said = key.findtext("fifths")
    fifths = number_of(said)
    if fifths is None:
        steps, alters = key.findall("key-step"), key.findall("key-alter")
        pairs = zip(steps, alters, strict=False)
        place.count("Unusual keys, the nearest usual one taken")
        return nearest_key({(s.text or "").strip(): int(number_of(a.text) or 0) for s, a in pairs})
    if abs(fifths) > limits.MAX_FIFTHS:
        raise place.error(f"a key with {abs(int(fifths))} accidentals makes no sense")
    return int(fifths)
