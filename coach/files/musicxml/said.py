"""What a bar says of how to go on and how fast: repeats, brackets, segno, coda, D.C., tempo.

What parts say is gathered here as it stands in the file; `frames` puts it together.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.core.score.tempowords import LONGEST_TEXT, word_of
from coach.files.musicxml import limits
from coach.files.musicxml.lengths import typed_beats
from coach.files.musicxml.place import Place
from coach.files.musicxml.values import number_of, one_line

SOUND, SIGN, WORDS = "sound", "sign", "words"
NO_TEMPO = "Tempo marks left out because they make no sense"
_CAPO = re.compile(r"\bda capo\b|\bd\. ?c\b|^d\.? ?c\.?( al\b.*)?$")
_SEGNO = re.compile(r"\bdal segno\b|\bd\. ?s\b|^d\.? ?s\.?( al\b.*)?$")
_TO_CODA = re.compile(r"^to (the )?coda\b")
_FINE = re.compile(r"^fine$")
_NUMBER = re.compile(r"\d{1,5}(\.\d{1,6})?")
_PASSES = re.compile(r"(\d{1,3})(?:\s*-\s*(\d{1,3}))?")


@dataclass(frozen=True, slots=True)
class JumpMark:
    """One of segno, coda, tocoda, fine, dacapo, dalsegno: who says it, where in the bar.

    `group`: marks of one direction have the same, for the sign in "D.S. (sign)" is no place to
    jump to.
    """

    kind: str
    label: str
    by: str
    at: Fraction
    group: int = 0


@dataclass(frozen=True, slots=True)
class Tempo:
    """Quarter notes a minute, or what the tempo before is multiplied with."""

    at: Fraction
    bpm: float
    relative: bool = False
    by: str = SOUND


_SOUND_KINDS = ("segno", "coda", "tocoda", "fine", "dacapo", "dalsegno")


def sound_marks(sound: Element, at: Fraction, group: int) -> list[JumpMark]:
    made = []
    for kind in _SOUND_KINDS:
        label = one_line(sound.get(kind), 40)
        if label and not (kind == "dacapo" and label == "no"):
            made.append(JumpMark(kind, label, SOUND, at, group))
    return made


def word_marks(text: str, at: Fraction, group: int) -> list[JumpMark]:
    """Marks that are only told in words, such as "D.C. al Fine"."""
    plain = one_line(text, 80).lower().strip("[]() .")
    kinds = {
        "dalsegno": _SEGNO,
        "dacapo": _CAPO,
        "tocoda": _TO_CODA,
        "fine": _FINE,
    }
    for kind, pattern in kinds.items():
        if pattern.search(plain):
            label = {"dalsegno": "segno", "tocoda": "coda"}.get(kind, "yes")
            return [JumpMark(kind, label, WORDS, at, group)]
    return []


def tempo_words(direction: Element) -> str:
    """The words of a direction if they are of tempo, else ""."""
    text = one_line(" ".join(words.text or "" for words in direction.iter("words")), LONGEST_TEXT)
    return text if word_of(text) else ""


def passes_of(ending: Element) -> frozenset[int]:
    """The numbers of an ending bracket: "1, 2", "1-3"; its text if the attribute says nothing."""
    for text in (ending.get("number", ""), ending.text or ""):
        found: set[int] = set()
        for first, last in _PASSES.findall(text[:200]):
            start, stop = int(first), min(int(last or first), limits.MAX_PLAYS)
            found.update(range(max(1, start), stop + 1))
        if found:
            return frozenset(found)
    return frozenset({1})


def plays_of(repeat: Element, place: Place) -> int:
    """How often a backward repeat is all played."""
    times = number_of(repeat.get("times"))
    if times is None or times < 2:
        return 2
    if times > limits.MAX_PLAYS:
        place.count(f"Repeats of more than {limits.MAX_PLAYS} times, cut to that")
        return limits.MAX_PLAYS
    return int(times)


def sound_tempo(sound: Element, at: Fraction, place: Place) -> list[Tempo]:
    said = sound.get("tempo")
    return [] if said is None else _usable(Tempo(at, _bpm(said)), place)


def _bpm(text: str) -> float:
    """The first number in it, such as in "ca. 108" or "60-80"; 0 if there is none."""
    found = _NUMBER.search(text[:100])
    return float(found[0]) if found else 0.0


def _usable(tempo: Tempo, place: Place) -> list[Tempo]:
    slowest, fastest = limits.TEMPO_BPM
    if slowest <= tempo.bpm <= fastest:
        return [tempo]
    place.count(NO_TEMPO)
    return []


def metronome_tempo(metronome: Element, at: Fraction, place: Place) -> list[Tempo]:
    """A note value and its number; or two note values: the second is as long as the first was."""
    units = _units(metronome)
    per_minute = metronome.findtext("per-minute")
    if len(units) == 1 and per_minute is not None and units[0]:
        return _usable(Tempo(at, _bpm(per_minute) * float(units[0]), by=SIGN), place)
    if len(units) == 2 and all(units):
        return [Tempo(at, float(units[1] / units[0]), relative=True, by=SIGN)]
    return []


def _units(metronome: Element) -> list[Fraction]:
    """Lengths of the note values in quarter notes; 0 for one that is not known."""
    names: list[tuple[str, int]] = []
    for child in metronome:
        if child.tag == "beat-unit":
            names.append((child.text or "", 0))
        elif child.tag == "beat-unit-dot" and names:
            names[-1] = (names[-1][0], names[-1][1] + 1)
    return [typed_beats(name, dots) or Fraction(0) for name, dots in names]
