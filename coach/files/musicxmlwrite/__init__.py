"""A passage as MusicXML 4.0, in written pitch, for programs that engrave or play it.

    musicxml_text(passage, instrument, tempo_bpm, alternates=["1", None])

Fingerings stand in <technical>, others to choose from beside them as alternates; syllables are a
lyric named "tonguing" below the notes.  The text is the same for the same passage on any day.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from xml.etree import ElementTree as ET

from coach.core.instrument import Instrument
from coach.core.notation import WrittenBar, notated
from coach.core.passage import Passage
from coach.core.spelling import spelled
from coach.files.drillwrite import meter_named
from coach.files.musicxmlwrite.accidentals import Accidentals
from coach.files.musicxmlwrite.heading import clef, key, metronome, time, transpose
from coach.files.musicxmlwrite.notes import Told, note_element
from coach.files.musicxmlwrite.tree import child

__all__ = ["musicxml_text"]


def musicxml_text(
    passage: Passage,
    instrument: Instrument,
    tempo_bpm: float,
    *,
    alternates: Sequence[str | None] = (),
    part_name: str = "",
) -> str:
    """The file's text for a passage that sounds on `instrument`, `tempo_bpm` clicks a minute.

    `alternates`, one for each note if any, are other fingerings, shown beside the note's own.
    ValueError for bars that no meter has, and lengths that no note value has.
    """
    root = ET.Element("score-partwise", version="4.0")
    if passage.title:
        child(child(root, "work"), "work-title", passage.title)
    child(child(child(root, "identification"), "encoding"), "software", "coach")
    described = child(child(root, "part-list"), "score-part", id="P1")
    child(described, "part-name", part_name or instrument.title)
    _part(child(root, "part", id="P1"), passage, instrument, tempo_bpm, tuple(alternates))
    ET.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, "unicode")}\n'


def _part(
    part: ET.Element,
    passage: Passage,
    instrument: Instrument,
    tempo_bpm: float,
    alternates: tuple[str | None, ...],
) -> None:
    bars = notated(passage)
    divisions = lcm(*(sign.length_beats.denominator for bar in bars for sign in bar.signs))
    told = Told(passage, spelled(passage, instrument.transposition), alternates, divisions)
    meters = ["", *(meter_named(_length(bar), bar.span.pulse_beats) for bar in bars)]
    for place, bar in enumerate(bars):
        measure = child(part, "measure", number=str(passage.first_bar + place))
        if place == 0:
            _heading(measure, told, instrument, meters[1])
            metronome(measure, bar.span.pulse_beats, tempo_bpm)
        elif meters[place + 1] != meters[place]:
            time(child(measure, "attributes"), meters[place + 1])
        _bar(measure, bar, told)
    child(child(measure, "barline", location="right"), "bar-style", "light-heavy")


def _length(bar: WrittenBar) -> Fraction:
    return bar.span.end_beats - bar.span.start_beats


def _heading(measure: ET.Element, told: Told, instrument: Instrument, meter: str) -> None:
    attributes = child(measure, "attributes")
    child(attributes, "divisions", str(told.divisions))
    key(attributes, told.passage.fifths)
    time(attributes, meter)
    clef(attributes, instrument, [name.midi for name in told.names])
    transpose(attributes, instrument.transposition)


def _bar(measure: ET.Element, bar: WrittenBar, told: Told) -> None:
    accidentals = Accidentals(told.passage.fifths)
    for sign in bar.signs:
        measure.append(note_element(sign, told, accidentals))
