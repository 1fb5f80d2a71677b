"""One <note>: pitch, value, and all that hangs on it."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree as ET

from coach.core.notation import Sign
from coach.core.passage import Note, Passage
from coach.core.pitch import Spelled
from coach.files.musicxmlwrite.accidentals import Accidentals
from coach.files.musicxmlwrite.tree import child


@dataclass(frozen=True, slots=True)
class Told:
    """What the signs point at; a quarter note is so many `divisions` long."""

    passage: Passage
    names: tuple[Spelled, ...]
    alternates: tuple[str | None, ...]
    divisions: int

    def joined(self, place: int) -> bool:
        """Whether a slur leads from the note before to this one."""
        notes = self.passage.notes
        return 0 < place < len(notes) and notes[place].slurred

    def alternate(self, place: int) -> str | None:
        """Another fingering than the note's own."""
        given = self.alternates[place] if place < len(self.alternates) else None
        return given if given != self.passage.notes[place].fingering else None


def note_element(sign: Sign, told: Told, accidentals: Accidentals) -> ET.Element:
    """The children stand in the order that the schema asks for."""
    made = ET.Element("note")
    accidental = None
    if sign.note is None:
        ET.SubElement(made, "rest", {"measure": "yes"} if sign.whole_bar else {})
    else:
        name = told.names[sign.note]
        _pitch(made, name)
        # An accidental before the bar line holds as long as the tie.
        accidental = None if sign.tied_back else accidentals.needed(name)
    child(made, "duration", str(sign.length_beats * told.divisions))
    for there, word in ((sign.tied_back, "stop"), (sign.tied_on, "start")):
        if there:
            child(made, "tie", type=word)
    child(made, "voice", "1")
    _value(made, sign, accidental)
    _notations(made, sign, told)
    if sign.note is not None and not sign.tied_back:
        _syllable(made, told.passage.notes[sign.note])
    return made


def _pitch(made: ET.Element, name: Spelled) -> None:
    pitch = child(made, "pitch")
    child(pitch, "step", name.letter)
    if name.alter:
        child(pitch, "alter", str(name.alter))
    child(pitch, "octave", str(name.octave))


def _value(made: ET.Element, sign: Sign, accidental: str | None) -> None:
    if not sign.whole_bar:
        child(made, "type", sign.value)
    for _ in range(sign.dots):
        child(made, "dot")
    if accidental:
        child(made, "accidental", accidental)
    if sign.tuplet:
        modified = child(made, "time-modification")
        child(modified, "actual-notes", str(sign.tuplet.actual))
        child(modified, "normal-notes", str(sign.tuplet.normal))
    for level, word in enumerate(sign.beams[:8], 1):
        child(made, "beam", word, number=str(level))


def _notations(made: ET.Element, sign: Sign, told: Told) -> None:
    notations = ET.Element("notations")
    for there, word in ((sign.tied_back, "stop"), (sign.tied_on, "start")):
        if there:
            child(notations, "tied", type=word)
    if sign.note is not None:
        _slurs(notations, sign, sign.note, told)
    for there, word in ((sign.starts_tuplet, "start"), (sign.ends_tuplet, "stop")):
        if there:
            child(
                notations,
                "tuplet",
                type=word,
                number="1",
                bracket="yes" if word == "start" else "no",
            )
    if sign.note is not None and not sign.tied_back:
        _played(notations, sign.note, told)
    if len(notations):
        made.append(notations)


def _slurs(notations: ET.Element, sign: Sign, place: int, told: Told) -> None:
    """A slur leads from the first head of the tongued note to the last head of the last one."""
    here, after = told.joined(place), told.joined(place + 1)
    if here and not after and not sign.tied_on:
        child(notations, "slur", type="stop", number="1")
    if after and not here and not sign.tied_back:
        child(notations, "slur", type="start", number="1")


def _played(notations: ET.Element, place: int, told: Told) -> None:
    note = told.passage.notes[place]
    if note.accent:
        child(child(notations, "articulations"), "accent")
    alternate = told.alternate(place)
    if note.fingering or alternate:
        technical = child(notations, "technical")
        if note.fingering:
            child(technical, "fingering", note.fingering, placement="above")
        if alternate:
            child(technical, "fingering", alternate, alternate="yes", placement="above")


def _syllable(made: ET.Element, note: Note) -> None:
    if note.syllable:
        lyric = child(made, "lyric", number="1", name="tonguing", placement="below")
        child(lyric, "syllabic", "single")
        child(lyric, "text", note.syllable)
