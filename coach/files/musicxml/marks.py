"""What stands at a note: articulations, ties, slurs, fingerings, tonguing syllables."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from xml.etree.ElementTree import Element

from coach.files.musicxml import limits
from coach.files.musicxml.values import number_of, one_line

_NAMES = {
    "accent": "accent",
    "strong-accent": "marcato",
    "staccato": "staccato",
    "tenuto": "tenuto",
    "staccatissimo": "staccatissimo",
    "detached-legato": "portato",
    "breath-mark": "breath-mark",
    "trill-mark": "trill",
    "double-tongue": "double-tongue",
    "triple-tongue": "triple-tongue",
    "stopped": "stopped",
    "open": "open",
}
_GROUPS = ("articulations", "ornaments", "technical")
_TONGUING = "tonguing"
_NONE: frozenset[str] = frozenset()


@dataclass(slots=True)
class Notations:
    """All that the <notations> of a note say; `slurs` are (number, begins), ends first."""

    marks: frozenset[str] = _NONE
    slurs: tuple[tuple[str, bool], ...] = ()
    ties: frozenset[str] = _NONE
    fingering: str | None = None


NOTHING = Notations()


@lru_cache(maxsize=512)
def _shared(marks: frozenset[str]) -> frozenset[str]:
    """One object for equal sets: a score has a dozen of them and thousands of notes."""
    return marks


def notations_of(note: Element) -> Notations:
    """What the note's <notations> (there may be several) say."""
    marks: set[str] = set()
    slurs: list[tuple[str, bool]] = []
    ties: set[str] = set()
    fingers: list[str] = []
    for notations in note.iterfind("notations"):
        for sign in notations:
            tag, kind = sign.tag, sign.get("type", "")
            if tag in _GROUPS:
                _group(sign, marks, fingers)
            elif tag == "slur" and kind in ("start", "stop"):
                slurs.append((sign.get("number", "1"), kind == "start"))
            elif tag == "tied":
                ties.add(kind)
            elif tag == "fermata":
                marks.add("fermata")
    slurs.sort(key=lambda slur: slur[1])
    fingering = one_line("".join(fingers), limits.MAX_FINGERING) or None
    return Notations(_shared(frozenset(marks)), tuple(slurs), frozenset(ties), fingering)


def _group(group: Element, marks: set[str], fingers: list[str]) -> None:
    for sign in group:
        tag = sign.tag
        if tag in _NAMES:
            marks.add(_NAMES[tag])
        elif tag == "tremolo":
            marks.add(_tremolo(sign))
        elif tag == "fingering" and "yes" not in (sign.get("alternate"), sign.get("substitution")):
            fingers.append((sign.text or "").strip())


def _tremolo(sign: Element) -> str:
    """ "tremolo-2" for two strokes through one stem; "tremolo" between notes, or unmeasured."""
    strokes = number_of(sign.text)
    if sign.get("type", "single") != "single" or not strokes or not 0 < strokes <= 8:
        return "tremolo"
    return f"tremolo-{int(strokes)}"


def ties_of(note: Element, notations: Notations) -> tuple[bool, bool]:
    """Tied to the note before, and to the next: what sounds, or else what is drawn."""
    kinds = {tie.get("type") for tie in note.iterfind("tie")} or notations.ties
    continued = "continue" in kinds
    return "stop" in kinds or continued, "start" in kinds or continued


def syllable_of(note: Element) -> str | None:
    """The text of a lyric that is named as tonguing."""
    for lyric in note.iterfind("lyric"):
        if lyric.get("name", "").strip().lower() == _TONGUING:
            texts = "".join(part.text or "" for part in lyric.iterfind("text"))
            return one_line(texts, limits.MAX_SYLLABLE) or None
    return None
